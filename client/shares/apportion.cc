#include "client/shares/apportion.h"
