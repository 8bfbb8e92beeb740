#include "client/replica/replica.h"
