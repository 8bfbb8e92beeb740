#include "client/base/id.h"
