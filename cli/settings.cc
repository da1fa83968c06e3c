// Commands about settings: apply, check, show.
#include <fstream>
#include <sstream>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_join.h"
#include "cli/catalog.h"
#include "cli/render_words.h"
#include "cli/report.h"
#include "cli/values.h"
#include "core/depot/settings_text.h"
#include "core/fact/counted.h"
#include "core/time/civil.h"
#include "core/time/holidays.h"

namespace ferrule::cli {
namespace {

// A settings file is some hundred kilobytes at most; a larger one is another file.
constexpr size_t kFileMax = 4U << 20U;

absl::StatusOr<std::string> ReadFile(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    return absl::InvalidArgumentError(
        absl::StrCat("cannot read ", path, "; check the name and the rights"));
  }
  std::string text;
  char block[65536];
  while (file.read(block, sizeof block) || file.gcount() > 0) {
    text.append(block, static_cast<size_t>(file.gcount()));
    if (text.size() > kFileMax) {
      return absl::InvalidArgumentError(absl::StrCat(path, " is too large for a settings file"));
    }
  }
  return text;
}

absl::StatusOr<v1::Settings> ReadSettings(const std::string& path) {
  const auto text = ReadFile(path);
  if (!text.ok()) return text.status();
  std::vector<depot::SettingsError> errors;
  absl::StatusOr<v1::Settings> settings = depot::ParseSettings(*text, &errors);
  if (settings.ok()) return settings;
  std::string lines;
  for (const depot::SettingsError& error : errors) {
    absl::StrAppend(&lines, "\n", path);
    if (error.line > 0) absl::StrAppend(&lines, ":", error.line);
    if (!error.field.empty()) absl::StrAppend(&lines, ": ", error.field);
    absl::StrAppend(&lines, ": ", error.message);
  }
  return absl::InvalidArgumentError(
      absl::StrCat("the settings were not accepted; put right what follows and try again", lines));
}

// "2 branches, 3 models, ..." of a version.
std::string Contents(const v1::Settings& settings) {
  using fact::Counted;
  return absl::StrJoin(
      {Counted(settings.branches_size(), "branch", "branches"),
       Counted(settings.device_classes_size(), "class", "classes"),
       Counted(settings.models_size(), "model", "models"),
       Counted(settings.cleaning_products_size(), "cleaning product", "cleaning products"),
       Counted(settings.checklists_size(), "checklist", "checklists"),
       Counted(settings.service_plans_size(), "service plan", "service plans")},
      ", ");
}

absl::Status Apply(Session& session, const Line& line) {
  const auto settings = ReadSettings(line.Arg("FILE"));
  if (!settings.ok()) return settings.status();
  session.UseZones(*settings);  // the first version brings the zones that its own date is in
  absl::StatusOr<Report> report = Report::Begin(session);
  if (!report.ok()) return report.status();
  Values values(session);
  v1::SettingsPut& fact = *report->Add()->mutable_settings_put();
  *fact.mutable_settings() = *settings;
  time::SetMicros(values.Instant("--from").value_or(report->at_us()), fact.mutable_from_time());
  if (!values.status().ok()) return values.status();
  return report->Send();
}

absl::Status Check(Session& session, const Line& line) {
  const auto settings = ReadSettings(line.Arg("FILE"));
  if (!settings.ok()) return settings.status();
  Table table({{"version"}, {"contents"}});
  table.Add({settings->version(), Contents(*settings)});
  session.Show(
      *settings, table,
      absl::StrCat("valid: version ", settings->version(), " with ", Contents(*settings), "\n"));
  return absl::OkStatus();
}

// Lines that a settings file takes as they are.
absl::Status Holidays(Session& session, const Line&) {
  Values values(session);
  const int64_t year = values.WholeIn("YEAR");
  if (!values.status().ok()) return values.status();
  if (year < 2021 || year > 2999) {
    return absl::InvalidArgumentError("give a year from 2021 to 2999, for instance 2027");
  }
  v1::Settings settings;
  Table table({{"date"}, {"name"}});
  std::string text = absl::StrCat("# Federal holidays of ", year,
                                  " as kept: 5 U.S.C. 6103 and E.O. 11582 section 3(a)\n");
  for (const time::FederalHoliday& holiday : time::FederalHolidays(static_cast<int>(year))) {
    v1::Holiday* out = settings.add_holidays();
    *out->mutable_date() = time::FromDay(holiday.day);
    out->set_display_name(std::string(holiday.name));
    table.Add({Day(out->date()), out->display_name()});
    absl::StrAppend(&text, "holidays { date { year: ", holiday.day.year(),
                    " month: ", holiday.day.month(), " day: ", holiday.day.day(),
                    " } display_name: \"", out->display_name(), "\" }\n");
  }
  session.Show(settings, table, text);
  return absl::OkStatus();
}

absl::Status ShowSettings(Session& session, const Line& line) {
  v1::GetSettingsRequest request;
  Values values(session);
  IfGiven(values.Instant("--at"),
          [&](int64_t v) { time::SetMicros(v, request.mutable_at_time()); });
  IfGiven(line.Get("--version"), [&](const std::string& v) { request.set_version(v); });
  if (!values.status().ok()) return values.status();
  v1::GetSettingsResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetSettings, request, &response);
  if (!asked.ok()) return asked;
  const absl::TimeZone zone = session.zones().OfBranch("");
  Table table({{"version"}, {"from"}, {"put"}});
  for (const v1::SettingsVersion& version : response.all()) {
    table.Add({version.settings().version(), Local(version.from_time(), zone),
               StampWords(version.put(), zone)});
  }
  std::string text;
  if (session.format() == Format::kText) {
    // Text that settings apply takes back; comments are comments there too.
    text = absl::StrCat("# Version ", response.version().settings().version(), " in force from ",
                        Local(response.version().from_time(), zone), " (", zone.name(), ")\n",
                        depot::FormatSettings(response.version().settings()));
  }
  session.Show(response, table, text);
  return absl::OkStatus();
}

}  // namespace

void AddSettingsCommands(Catalog* catalog) {
  constexpr auto kGroup = Group::kKeep;
  const Positional file{"FILE", "settings in protobuf text format"};
  catalog->push_back({"settings apply",
                      kGroup,
                      Kind::kRecords,
                      "put a whole version of the settings in force",
                      {file},
                      {{"--from", "TIME", "in force from; default the time of the report"}},
                      "ferrule settings apply depot.textproto --from 2026-12-01",
                      Apply});
  catalog->push_back({"settings check",
                      kGroup,
                      Kind::kLocal,
                      "check a settings file without a depot",
                      {file},
                      {},
                      "ferrule settings check depot.textproto",
                      Check});
  catalog->push_back({"settings holidays",
                      kGroup,
                      Kind::kLocal,
                      "print a year's federal holidays of the United States for a settings file",
                      {{"YEAR", "the year, from 2021"}},
                      {},
                      "ferrule settings holidays 2027",
                      Holidays});
  catalog->push_back({"settings show",
                      kGroup,
                      Kind::kReads,
                      "print settings as text that can be applied again",
                      {},
                      {{"--version", "VERSION", "this version; default the one in force"},
                       {"--at", "TIME", "the one in force then"}},
                      "ferrule settings show --version 2026-01",
                      ShowSettings});
}

}  // namespace ferrule::cli
