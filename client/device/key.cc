#include "client/device/key.h"
