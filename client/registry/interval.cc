#include "client/registry/interval.h"
