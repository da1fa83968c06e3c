#include "cli/plan_ask.h"

#include <cstdio>
#include <fstream>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_format.h"

namespace ferrule::cli {

absl::Status WritePage(Session& session, const Page& page) {
  const auto file = session.line().Get("--html");
  if (!file.has_value()) return absl::OkStatus();
  // Written beside it and renamed, so that nobody reads half a page.
  const std::string draft = *file + ".part";
  std::ofstream out(draft, std::ios::binary | std::ios::trunc);
  out << page.Html();
  out.close();
  if (!out || std::rename(draft.c_str(), file->c_str()) != 0) {
    std::remove(draft.c_str());
    return absl::InvalidArgumentError(absl::StrCat(
        "--html: ", *file, " cannot be written; give a file in a folder that is there"));
  }
  session.Remark(absl::StrCat("wrote ", *file, "; open it in a browser"));
  return absl::OkStatus();
}

std::string Decimal(double value, int places) { return absl::StrFormat("%.*f", places, value); }

std::string Percent(double share, int places) {
  return absl::StrFormat("%.*f %%", places, 100 * share);
}

std::string Money(int64_t minor, const std::string& currency) {
  const int64_t size = minor < 0 ? -minor : minor;
  return absl::StrFormat("%s%d.%02d%s%s", minor < 0 ? "-" : "", size / 100, size % 100,
                         currency.empty() ? "" : " ", currency);
}

std::string ShortDay(const google::type::Date& date) {
  static const char* const kMonths[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  if (!time::IsValid(date)) return "";
  return absl::StrCat(date.day(), " ", kMonths[date.month() - 1]);
}

int64_t DayNumberOf(const google::type::Date& date) { return time::DayNumber(time::ToDay(date)); }

}  // namespace ferrule::cli
