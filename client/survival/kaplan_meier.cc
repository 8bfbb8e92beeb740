#include "client/survival/kaplan_meier.h"
