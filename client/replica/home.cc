#include "client/replica/home.h"
