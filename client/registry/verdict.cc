#include "client/registry/verdict.h"
