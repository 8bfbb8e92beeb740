#include "client/registry/state.h"
