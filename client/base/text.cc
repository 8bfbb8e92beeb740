#include "client/base/text.h"
