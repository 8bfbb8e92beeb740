#include "client/replica/ledger.h"
