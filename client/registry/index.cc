#include "client/registry/index.h"
