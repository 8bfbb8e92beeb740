#include "client/sync/chunk.h"
