#include "client/base/bytes.h"
