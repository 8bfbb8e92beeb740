#include "client/base/bech32m.h"
