// Commands about the depot file itself.
#include "absl/strings/str_cat.h"
#include "cli/catalog.h"
#include "cli/connect.h"
#include "cli/session.h"

namespace ferrule::cli {
namespace {

absl::Status Init(Session& session, const Line& line) {
  std::string file = line.Arg("FILE");
  if (file.empty()) file = session.target().depot.value_or("");
  if (file.empty()) {
    return absl::InvalidArgumentError("say where: ferrule init depot.ferrule");
  }
  const absl::Status made = CreateDepot(file);
  if (!made.ok()) return made;
  Table table({{"file"}});
  table.Add({file});
  v1::GetServerInfoResponse nothing_yet;
  session.Show(nothing_yet, table,
               absl::StrCat("made ", file, ", an empty depot\nNext: export FERRULE_DEPOT=", file,
                            " and put settings in force with ferrule settings apply FILE\n"));
  return absl::OkStatus();
}

}  // namespace

void AddDepotCommands(Catalog* catalog) {
  catalog->push_back({"init",
                      Group::kKeep,
                      Kind::kLocal,
                      "make a new, empty depot file",
                      {{"FILE", "the file to make; default --depot", Arity::kOptional}},
                      {},
                      "ferrule init depot.ferrule",
                      Init});
}

}  // namespace ferrule::cli
