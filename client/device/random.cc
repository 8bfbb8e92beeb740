#include "client/device/random.h"
