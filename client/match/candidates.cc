#include "client/match/candidates.h"
