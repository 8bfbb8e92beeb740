#include "client/base/hash.h"
