#include "client/sync/invite_code.h"
