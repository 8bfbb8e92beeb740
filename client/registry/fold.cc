#include "client/registry/fold.h"
