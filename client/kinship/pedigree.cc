#include "client/kinship/pedigree.h"
