#include "client/device/clock.h"
