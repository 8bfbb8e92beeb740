#include "client/base/base32.h"
