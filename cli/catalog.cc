#include "cli/catalog.h"

#include <array>

#include "cli/access.h"

namespace ferrule::cli {
namespace {

constexpr std::array kGlobal = {
    Flag{"--depot", "FILE", "depot file to work on (or FERRULE_DEPOT)"},
    Flag{"--server", "HOST:PORT",
         "server to ask instead, or unix:FILE for its owner's socket (or FERRULE_SERVER)"},
    Flag{"--token-file", "FILE",
         "file with the token that says who you are (or FERRULE_TOKEN_FILE)"},
    Flag{"--tls-ca", "FILE",
         "certificates under which the server's is issued; speaks TLS (or FERRULE_TLS_CA)"},
    Flag{"--tls-certificate", "FILE", "your own certificate (or FERRULE_TLS_CERTIFICATE)"},
    Flag{"--tls-key", "FILE", "its key (or FERRULE_TLS_KEY)"},
    Flag{"--plaintext", "", "speak to another machine without TLS"},
    Flag{"--break-glass", "REASON", "read, in an emergency, what your role does not allow; kept"},
    Flag{"--format", "FORMAT", "how to answer: text (default), json or csv", false,
         "text json csv"},
    Flag{"--branch", "BRANCH", "branch concerned; its time zone is used (or FERRULE_BRANCH)"},
    Flag{"--help", "", "show what the command takes"},
};

constexpr std::array kRecord = {
    Flag{"--as", "ACTOR", "who reports (or FERRULE_ACTOR)"},
    Flag{"--at", "TIME",
         "when it happened: 14:05, 'yesterday 14:05', '2026-11-25 14:05', or with "
         "an offset; default now"},
    Flag{"--observed", "", "it has already happened: record it, turn broken rules into questions"},
    Flag{"--check", "", "only check; record nothing"},
    Flag{"--override", "RULE", "set this rule aside; needs --authority and --because", true},
    Flag{"--authority", "NAME", "who takes the responsibility for --override"},
    Flag{"--because", "TEXT", "why"},
    Flag{"--note", "TEXT", "free words; never a patient's particulars"},
    Flag{"--entry-id", "ID",
         "the entry's own id, so that a repeat does no harm; default a new one"},
    Flag{"--channel", "WORD", "channel of the report; default counter"},
    Flag{"--outbox", "FILE",
         "keep the report in this file until the depot has it, also while the server is away (or "
         "FERRULE_OUTBOX)"},
};

constexpr std::array kRead = {
    Flag{"--known-at", "TIME", "answer from what had been recorded by then"},
    Flag{"--explain", "", "add the records, settings version and known time behind the answer"},
};

constexpr std::array kGroups = {Group::kWarehouse, Group::kBench, Group::kStores, Group::kOrders,
                                Group::kField,     Group::kLook,  Group::kTrace,  Group::kKeep};

Catalog BuildCatalog() {
  Catalog catalog;
  catalog.reserve(128);
  AddStorageCommands(&catalog);
  AddBenchCommands(&catalog);
  AddPartCommands(&catalog);
  AddStoresCommands(&catalog);
  AddStoresAnswers(&catalog);
  AddStocktakeCommands(&catalog);
  AddMoreBenchCommands(&catalog);
  AddBenchAnswers(&catalog);
  AddOrderCommands(&catalog);
  AddOrderLifeCommands(&catalog);
  AddFieldCommands(&catalog);
  AddPromiseCommands(&catalog);
  AddMotionCommands(&catalog);
  AddPaperCommands(&catalog);
  AddUnitAnswers(&catalog);
  AddOrderAnswers(&catalog);
  AddCoverAnswers(&catalog);
  AddLedgerAnswers(&catalog);
  AddTraceCommands(&catalog);
  AddRecallCommands(&catalog);
  AddComplaintCommands(&catalog);
  AddRecordsCommands(&catalog);
  AddSettingsCommands(&catalog);
  AddCorrectionCommands(&catalog);
  AddDepotCommands(&catalog);
  AddDemoCommands(&catalog);
  AddImportCommands(&catalog);
  AddQueueCommands(&catalog);
  AddOutboxCommands(&catalog);
  AddManualCommands(&catalog);
  AddForecastCommands(&catalog);
  AddFleetPlanCommands(&catalog);
  AddMeasureCommands(&catalog);
  AddScanCommands(&catalog);
  AddLabelCommands(&catalog);
  AddStationCommands(&catalog);
  AddAccessCommands(&catalog);
  return catalog;
}

}  // namespace

const Catalog& AllCommands() {
  static const Catalog catalog = BuildCatalog();
  return catalog;
}

const Command* FindCommand(std::string_view name) {
  for (const Command& command : AllCommands()) {
    if (command.name == name) return &command;
  }
  return nullptr;
}

std::string_view Heading(Group group) {
  switch (group) {
    case Group::kWarehouse:
      return "Warehouse: where units are";
    case Group::kBench:
      return "Bench: cleaning, inspection, repair, service, parts and meters";
    case Group::kStores:
      return "Stores: goods by lot and by count, transfers, closets, stocktakes";
    case Group::kOrders:
      return "Intake and dispatch: orders and reservations";
    case Group::kField:
      return "In the field: hand-over, exchange, pick-up";
    case Group::kLook:
      return "Answers";
    case Group::kTrace:
      return "Traces: who had what, recalls, proofs, the audit";
    case Group::kKeep:
      return "Keeping the records";
  }
  return "";
}

std::span<const Group> AllGroups() { return kGroups; }
std::span<const Flag> GlobalFlags() { return kGlobal; }
std::span<const Flag> RecordFlags() { return kRecord; }
std::span<const Flag> ReadFlags() { return kRead; }

std::vector<const Flag*> FlagsOf(const Command& command) {
  std::vector<const Flag*> flags;
  const auto add = [&flags](std::span<const Flag> more) {
    for (const Flag& flag : more) {
      bool known = false;
      for (const Flag* have : flags) known = known || have->name == flag.name;
      if (!known) flags.push_back(&flag);
    }
  };
  add(command.flags);
  if (command.kind == Kind::kRecords) add(kRecord);
  if (command.kind == Kind::kReads) add(kRead);
  add(kGlobal);
  return flags;
}

}  // namespace ferrule::cli
