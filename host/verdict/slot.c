#include "verdict/slot.h"
