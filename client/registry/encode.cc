#include "client/registry/encode.h"
