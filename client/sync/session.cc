#include "client/sync/session.h"
