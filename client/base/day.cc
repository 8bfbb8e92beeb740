#include "client/base/day.h"
