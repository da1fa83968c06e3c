// The commands about who may call: tokens, access rules, the log of reads, particulars.
#pragma once

#include "cli/command.h"

namespace ferrule::cli {

void AddAccessCommands(Catalog* catalog);

}  // namespace ferrule::cli
