#include "daemon/commands/command.h"

const struct command *const command_table[] = {
    &command_serve,    &command_morning,   &command_call,   &command_turns,  &command_ledger,
    &command_workings, &command_et0,       &command_replay, &command_trial,  &command_sweep,
    &command_fit,      &command_import,    &command_export, &command_check,  &command_sources,
    &command_layout,   &command_hindsight, &command_pair,   &command_people, &command_backup,
    &command_restore,  &command_tell,      &command_doctor, &command_page,   NULL,
};
