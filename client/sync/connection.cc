#include "client/sync/connection.h"
