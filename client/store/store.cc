#include "client/store/store.h"
