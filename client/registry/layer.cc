#include "client/registry/layer.h"
