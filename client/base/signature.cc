#include "client/base/signature.h"
