#include "daemon/commands/command.h"

const struct command *const command_table[] = {
    &command_serve,
    &command_morning,
    &command_call,
    &command_ledger,
    &command_workings,
    &command_et0,
    &command_replay,
    &command_import,
    &command_export,
    &command_check,
    &command_sources,
    &command_layout,
    NULL,
};
