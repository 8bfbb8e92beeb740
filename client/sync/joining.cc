#include "client/sync/joining.h"
