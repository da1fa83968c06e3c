// A row of a file of orders, read.
#include "core/exchange/csv_fields.h"
#include "core/exchange/news.h"
#include "core/exchange/text.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

struct ItemRow {
  std::string_view field;
  v1::IntakeItem item;
  std::string_view unit;
};
// A number in a file is in the unit of its field's name.
constexpr ItemRow kItems[] = {
    {"extension_deg", v1::INTAKE_ITEM_EXTENSION, "deg"},
    {"flexion_deg", v1::INTAKE_ITEM_FLEXION, "deg"},
    {"speed_deg_per_min", v1::INTAKE_ITEM_SPEED, "deg/min"},
    {"pause_s", v1::INTAKE_ITEM_PAUSE, "s"},
    {"daily_use_h", v1::INTAKE_ITEM_DAILY_USE, "h"},
    {"length_of_need_days", v1::INTAKE_ITEM_LENGTH_OF_NEED, "d"},
    {"side", v1::INTAKE_ITEM_SIDE, ""},
    {"procedure", v1::INTAKE_ITEM_PROCEDURE, ""},
};

class CsvOrderReader {
 public:
  CsvOrderReader(const CsvValues& values, const v1::CsvMapping& mapping, const ReadOptions& options,
                 Reading* out)
      : values_(values), mapping_(mapping), options_(options), out_(*out) {}

  void Run() {
    OrderNews news;
    news.number = Text("order_number");
    news.patient = Text("patient");
    for (const CsvField& field : FieldsOf(v1::IMPORT_KIND_ORDERS)) {
      if (field.required && Text(field.name).empty()) Missing(field.name);
    }
    Control(&news);
    Version(&news);
    Device(&news);
    for (const ItemRow& row : kItems) Item(row, &news);
    v1::OrderDetails& d = news.details;
    Day("surgery_date", [&] { return d.mutable_surgery_date(); });
    Day("discharge_date", [&] { return d.mutable_discharge_date(); });
    Day("needed_date", [&] { return d.mutable_needed_date(); });
    Day("signed_date", [&] { return d.mutable_signed_date(); });
    Day("authorisation_end_date", [&] { return d.mutable_authorisation_end_date(); });
    Day("cover_end_date", [&] { return d.mutable_cover_end_date(); });
    Words("prescriber", 64, [&](std::string t) { d.set_prescriber(t); });
    Words("facility", 64, [&](std::string t) { d.set_facility(t); });
    Branch(&news);
    out_.stated_us = news.stated_us;
    out_.orders.push_back(std::move(news));
  }

 private:
  std::string Text(std::string_view field) { return std::string(ValueOf(values_, field)); }
  void Missing(std::string_view field) {
    out_.troubles.push_back(
        TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, field, "is missing", "give it"));
  }
  void Wrong(std::string_view field, std::string_view text, std::string_view cure) {
    out_.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, field, text, cure));
  }

  void Control(OrderNews* news) {
    const std::string text = Lower(Text("control"));
    if (text.empty() || text == "new" || text == "nw") return;
    if (text == "change" || text == "xo" || text == "rp") {
      news->control = OrderNews::Control::kChange;
    } else if (text == "cancel" || text == "ca" || text == "dc") {
      news->control = OrderNews::Control::kCancel;
      news->reason = Text("reason");
    } else {
      Wrong("control", "says neither new, change nor cancel", "give one of the three");
    }
  }

  void Version(OrderNews* news) {
    const std::string stated = Text("stated_time");
    if (!stated.empty()) {
      const auto instant = time::ParseInstant(stated, options_.zone);
      if (!instant.ok()) return Wrong("stated_time", "is no time", "give YYYY-MM-DD HH:MM:SS");
      news->stated_us = *instant;
    }
    if (options_.sender->version_from() == v1::VERSION_SOURCE_COUNT) {
      if (!ParseDigits(Text("version"), &news->version) || news->version < 1) {
        Wrong("version", "is no whole number from 1", "give the sender's count");
      }
      return;
    }
    if (news->stated_us == 0) return Missing("stated_time");
    news->version = VersionOfTime(news->stated_us);
  }

  void Device(OrderNews* news) {
    const std::string code = Text("device_code");
    const std::string name = Text("device_class");
    if (!code.empty()) {
      const v1::CodeMapping* mapping = FindCode(*options_.sender, "", code);
      if (mapping == nullptr) {
        out_.troubles.push_back(UnmappedCode("device_code", "", code));
        return;
      }
      PutCode(*mapping, news);
    } else if (!name.empty() && fact::IsValidId(name)) {
      news->details.set_device_class(name);
    } else if (!name.empty()) {
      Wrong("device_class", "is no class of device", "give its id as in the settings");
    } else if (news->control == OrderNews::Control::kOrder) {
      Missing("device_code");
    }
  }

  void Item(const ItemRow& row, OrderNews* news) {
    const std::string text = Text(row.field);
    if (text.empty()) return;
    if (row.item == v1::INTAKE_ITEM_PROCEDURE && fact::CountCharacters(text) > 500) {
      return Wrong(row.field, "has more than 500 characters", "shorten it");
    }
    PutItem(row.item, {row.field, text, row.unit}, news, &out_.troubles);
  }

  template <typename Field>
  void Day(std::string_view name, Field field) {
    const std::string text = Text(name);
    if (text.empty()) return;
    google::type::Date day;
    if (!ParseCsvDay(text, mapping_.date_form(), &day)) {
      return Wrong(name, "is no day of the calendar in the file's form",
                   "write it as the mapping says, or as YYYY-MM-DD without one");
    }
    *field() = day;
  }

  template <typename Set>
  void Words(std::string_view name, size_t longest, Set set) {
    const std::string text = Text(name);
    if (text.empty()) return;
    if (fact::CountCharacters(text) > longest) {
      return Wrong(name, "has more than 64 characters", "shorten it");
    }
    set(text);
  }

  void Branch(OrderNews* news) {
    std::string branch = Text("branch");
    if (branch.empty() && news->control == OrderNews::Control::kOrder) {
      branch = options_.sender->branch();
    }
    if (branch.empty()) return;
    if (!fact::IsValidId(branch)) {
      return Wrong("branch", "is no branch", "give its id as in the settings");
    }
    news->details.set_branch(branch);
  }

  const CsvValues& values_;
  const v1::CsvMapping& mapping_;
  const ReadOptions& options_;
  Reading& out_;
};

}  // namespace

Reading ReadCsvOrder(const CsvValues& fields, const v1::CsvMapping& mapping,
                     const ReadOptions& options) {
  Reading out;
  CsvOrderReader(fields, mapping, options, &out).Run();
  return out;
}

}  // namespace ferrule::exchange
