#include "daemon/commands/command.h"

const struct command command_table[] = {};
