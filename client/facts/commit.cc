#include "client/facts/commit.h"
