#include "client/shares/split.h"
