#include "client/facts/arrival.h"
