#include "client/facts/chain.h"
