#include "client/device/private_file.h"
