// All commands and the flags that they share.
#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "cli/command.h"

namespace ferrule::cli {

// Every command, in the order of the help.
const Catalog& AllCommands();

// The command of that exact name; null when there is none.
const Command* FindCommand(std::string_view name);

// Heading of a group, for instance "Warehouse".
std::string_view Heading(Group group);
std::span<const Group> AllGroups();

// Flags of every command, of those that record, and of those that ask.
std::span<const Flag> GlobalFlags();
std::span<const Flag> RecordFlags();
std::span<const Flag> ReadFlags();
// Own flags first, then the shared ones of its kind.
std::vector<const Flag*> FlagsOf(const Command& command);

// One function a file of commands.
void AddStorageCommands(Catalog* catalog);
void AddBenchCommands(Catalog* catalog);
void AddPartCommands(Catalog* catalog);
void AddStoresCommands(Catalog* catalog);
void AddStoresAnswers(Catalog* catalog);
void AddStocktakeCommands(Catalog* catalog);
void AddTraceCommands(Catalog* catalog);
void AddRecallCommands(Catalog* catalog);
void AddComplaintCommands(Catalog* catalog);
void AddRecordsCommands(Catalog* catalog);
void AddMoreBenchCommands(Catalog* catalog);
void AddBenchAnswers(Catalog* catalog);
void AddOrderCommands(Catalog* catalog);
void AddOrderLifeCommands(Catalog* catalog);
void AddFieldCommands(Catalog* catalog);
void AddPromiseCommands(Catalog* catalog);
void AddMotionCommands(Catalog* catalog);
void AddPaperCommands(Catalog* catalog);
void AddUnitAnswers(Catalog* catalog);
void AddOrderAnswers(Catalog* catalog);
void AddCoverAnswers(Catalog* catalog);
void AddLedgerAnswers(Catalog* catalog);
void AddSettingsCommands(Catalog* catalog);
void AddCorrectionCommands(Catalog* catalog);
void AddDepotCommands(Catalog* catalog);
void AddDemoCommands(Catalog* catalog);
void AddImportCommands(Catalog* catalog);
void AddQueueCommands(Catalog* catalog);
void AddOutboxCommands(Catalog* catalog);
void AddManualCommands(Catalog* catalog);
void AddForecastCommands(Catalog* catalog);
void AddFleetPlanCommands(Catalog* catalog);
void AddMeasureCommands(Catalog* catalog);
void AddScanCommands(Catalog* catalog);
void AddLabelCommands(Catalog* catalog);
void AddStationCommands(Catalog* catalog);

}  // namespace ferrule::cli
