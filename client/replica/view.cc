#include "client/replica/view.h"
