#include "client/facts/range.h"
