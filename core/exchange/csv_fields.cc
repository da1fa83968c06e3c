#include "core/exchange/csv_fields.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/exchange/news.h"
#include "core/exchange/text.h"
#include "core/fact/subject.h"
#include "core/fact/utf8.h"
#include "core/time/civil.h"

namespace ferrule::exchange {
namespace {

constexpr std::array kOrders = {
    CsvField{"order_number", true},
    CsvField{"patient", true},
    CsvField{"device_code", false},
    CsvField{"device_class", false},
    CsvField{"control", false},
    CsvField{"version", false},
    CsvField{"stated_time", false},
    CsvField{"side", false},
    CsvField{"procedure", false},
    CsvField{"surgery_date", false},
    CsvField{"discharge_date", false},
    CsvField{"needed_date", false},
    CsvField{"length_of_need_days", false},
    CsvField{"extension_deg", false},
    CsvField{"flexion_deg", false},
    CsvField{"speed_deg_per_min", false},
    CsvField{"pause_s", false},
    CsvField{"daily_use_h", false},
    CsvField{"prescriber", false},
    CsvField{"facility", false},
    CsvField{"branch", false},
    CsvField{"signed_date", false},
    CsvField{"authorisation_end_date", false},
    CsvField{"cover_end_date", false},
    CsvField{"reason", false},
};
constexpr std::array kUnits = {
    CsvField{"unit", true},     CsvField{"model", true},    CsvField{"place", true},
    CsvField{"time", false},    CsvField{"serial", false},  CsvField{"udi", false},
    CsvField{"owner", false},   CsvField{"purpose", false}, CsvField{"side", false},
    CsvField{"meter_h", false}, CsvField{"cost", false},
};
constexpr std::array kStock = {
    CsvField{"lot", false},  CsvField{"item", true},  CsvField{"pieces", true},
    CsvField{"place", true}, CsvField{"time", false}, CsvField{"expiry_date", false},
};
constexpr std::array kReadings = {
    CsvField{"unit", true},
    CsvField{"time", true},
    CsvField{"meter_h", true},
};
constexpr std::array kResults = {
    CsvField{"unit", true},     CsvField{"time", true}, CsvField{"checklist", true},
    CsvField{"tester", false},  CsvField{"item", true}, CsvField{"value", true},
    CsvField{"version", false},
};

// One row on its way to a fact.
class RowReader {
 public:
  RowReader(const CsvValues& values, const RowOptions& options, RowFact* out)
      : values_(values), options_(options), out_(*out) {}

  void Unit() {
    v1::UnitReceived& f = *out_.fact.mutable_unit_received();
    Time(false);
    Id("unit", [&](std::string id) { f.set_unit(id); });
    Id("model", [&](std::string id) { f.set_model(id); });
    Id("place", [&](std::string id) { f.set_place(id); });
    if (!f.model().empty() && options_.rules->FindModel(f.model()) == nullptr) {
      Wrong("model", "is not in the settings", "correct it, or put settings in force that have it");
    }
    Place(f.place());
    f.set_serial(Text("serial", 64));
    f.set_udi(Text("udi", 200));
    f.set_owner(Text("owner", 64));
    Purpose(&f);
    if (!Value("side").empty()) {
      f.set_side(ParseSide(Value("side")));
      if (f.side() == v1::SIDE_UNSPECIFIED)
        Wrong("side", "is no side", "give left, right or either");
    }
    double hours = 0;
    if (Number("meter_h", 0, 2'000'000, &hours)) f.set_meter_s(std::llround(hours * 3600));
    double cost = 0;
    if (Number("cost", 0, 1e12, &cost)) f.set_cost_minor(std::llround(cost * 100));
  }

  void Stock() {
    v1::StockReceived& f = *out_.fact.mutable_stock_received();
    Time(false);
    Id("item", [&](std::string id) { f.set_item(id); });
    Id("lot", [&](std::string id) { f.set_lot(id); });
    Id("place", [&](std::string id) { f.set_place(id); });
    Place(f.place());
    double pieces = 0;
    if (Number("pieces", 1, 1'000'000, &pieces)) {
      if (pieces != std::floor(pieces)) return Wrong("pieces", "is no whole number", "count again");
      f.set_piece_count(static_cast<int32_t>(pieces));
    }
    const std::string_view expiry = Value("expiry_date");
    if (expiry.empty()) return;
    google::type::Date day;
    if (!ParseCsvDay(expiry, options_.mapping->date_form(), &day)) {
      return Wrong("expiry_date", "is no day of the calendar", "write it as the mapping says");
    }
    *f.mutable_expiry_date() = day;
  }

  void Reading() {
    v1::MeterRead& f = *out_.fact.mutable_meter_read();
    Time(true);
    Id("unit", [&](std::string id) { f.set_unit(id); });
    double hours = 0;
    if (Number("meter_h", 0, 2'000'000, &hours)) f.set_reading_s(std::llround(hours * 3600));
  }

  void Result() {
    v1::InspectionDone& f = *out_.fact.mutable_inspection_done();
    Time(true);
    Id("unit", [&](std::string id) { f.set_unit(id); });
    Id("checklist", [&](std::string id) { f.set_checklist(id); });
    f.set_tester(Text("tester", 64));
    const v1::Checklist* list = options_.rules->FindChecklist(f.checklist());
    if (list == nullptr && !f.checklist().empty()) {
      return Wrong("checklist", "is not in the settings",
                   "correct it, or put settings in force that have it");
    }
    f.set_checklist_version(Text("version", 64));
    if (f.checklist_version().empty() && list != nullptr) f.set_checklist_version(list->version());
    v1::Reading& reading = *f.add_readings();
    Id("item", [&](std::string id) { reading.set_item(id); });
    if (list != nullptr && !reading.item().empty() &&
        std::none_of(list->items().begin(), list->items().end(),
                     [&](const v1::ChecklistItem& i) { return i.id() == reading.item(); })) {
      Wrong("item", "is no item of the checklist", "correct it");
    }
    double value = 0;
    const std::string lower = Lower(Value("value"));
    if (lower == "pass" || lower == "yes") {
      reading.set_value(1);
    } else if (lower == "fail" || lower == "no") {
      reading.set_value(0);
    } else if (Number("value", -1e12, 1e12, &value)) {
      reading.set_value(value);
    }
  }

 private:
  std::string_view Value(std::string_view field) const { return ValueOf(values_, field); }
  void Wrong(std::string_view field, std::string_view text, std::string_view cure) {
    out_.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, field, text, cure));
  }

  template <typename Set>
  void Id(std::string_view field, Set set) {
    const std::string_view value = Value(field);
    if (value.empty()) return;  // missing is said by ValuesOf
    if (!fact::IsValidId(value)) {
      return Wrong(field, "is no id",
                   "give 1 to 64 letters, digits, dots, underscores or hyphens, beginning with a "
                   "letter or a digit");
    }
    set(std::string(value));
  }

  void Place(const std::string& place) {
    if (!place.empty() && options_.rules->FindPlace(place) == nullptr) {
      Wrong("place", "is not in the settings", "correct it, or put settings in force that have it");
    }
  }

  std::string Text(std::string_view field, size_t longest) {
    const std::string_view value = Value(field);
    if (fact::CountCharacters(value) > longest) {
      Wrong(field, Cat("has more than ", longest, " characters"), "shorten it");
    }
    return std::string(value);
  }

  bool Number(std::string_view field, double least, double most, double* value) {
    if (Value(field).empty()) return false;
    if (!ParseNumber(Value(field), value) || !std::isfinite(*value)) {
      Wrong(field, "is not a number", "give a plain number with a decimal point");
      return false;
    }
    if (*value >= least && *value <= most) return true;
    Wrong(field, Cat("is out of range, ", least, " to ", most), "correct it");
    return false;
  }

  void Purpose(v1::UnitReceived* f) {
    const std::string text = Lower(Value("purpose"));
    if (text.empty()) return;
    constexpr std::pair<std::string_view, v1::Purpose> kWords[] = {
        {"rental", v1::PURPOSE_RENTAL},
        {"demonstration", v1::PURPOSE_DEMONSTRATION},
        {"loaner", v1::PURPOSE_LOANER},
        {"cross-rented", v1::PURPOSE_CROSS_RENTED}};
    for (const auto& [word, purpose] : kWords) {
      if (word == text) return f->set_purpose(purpose);
    }
    Wrong("purpose", "is no purpose", "give rental, demonstration, loaner or cross-rented");
  }

  // Without a time the row stands for now.
  void Time(bool required) {
    const std::string_view text = Value("time");
    if (text.empty() && !required) {
      return time::SetMicros(options_.now_us, out_.fact.mutable_happened_time());
    }
    if (text.empty()) return;
    google::type::Date day;
    auto instant = time::ParseInstant(text, options_.zone);
    if (!instant.ok() && ParseCsvDay(text, options_.mapping->date_form(), &day)) {
      instant = time::StartOfDayMicros(time::ToDay(day), options_.zone);
    }
    if (!instant.ok()) {
      return Wrong("time", "is no time",
                   "give YYYY-MM-DD HH:MM, with an offset if it is not local");
    }
    if (*instant > options_.now_us) {
      return Wrong("time", "lies in the future", "give when it happened");
    }
    time::SetMicros(*instant, out_.fact.mutable_happened_time());
  }

  const CsvValues& values_;
  const RowOptions& options_;
  RowFact& out_;
};

}  // namespace

std::span<const CsvField> FieldsOf(v1::ImportKind kind) {
  switch (kind) {
    case v1::IMPORT_KIND_ORDERS:
      return kOrders;
    case v1::IMPORT_KIND_UNITS:
      return kUnits;
    case v1::IMPORT_KIND_OPENING_STOCK:
      return kStock;
    case v1::IMPORT_KIND_READINGS:
      return kReadings;
    case v1::IMPORT_KIND_TEST_RESULTS:
      return kResults;
    default:
      return {};
  }
}

std::string_view ValueOf(const CsvValues& values, std::string_view field) {
  for (const auto& [name, value] : values) {
    if (name == field) return value;
  }
  return "";
}

CsvLayout LayOut(v1::ImportKind kind, const v1::CsvMapping& mapping,
                 const std::vector<std::string>& header) {
  CsvLayout layout;
  layout.width = header.size();
  const auto known = FieldsOf(kind);
  const auto wrong = [&](std::string_view where, std::string_view text, std::string_view cure) {
    layout.troubles.push_back(TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, where, text, cure));
  };
  const auto field_of = [&](const std::string& column) -> std::string {
    if (mapping.columns_size() == 0) return column;
    for (const v1::CsvColumn& c : mapping.columns()) {
      if (c.column() == column) return c.field();
    }
    return "";
  };
  for (size_t i = 0; i < header.size(); ++i) {
    const std::string field = field_of(header[i]);
    if (field.empty()) continue;
    const bool is_field =
        std::any_of(known.begin(), known.end(), [&](const CsvField& f) { return f.name == field; });
    if (is_field) {
      layout.columns.emplace_back(i, field);
    } else if (mapping.columns_size() != 0) {
      wrong(field, "is no field of this kind of file", "correct the mapping in the settings");
    }
  }
  for (const CsvField& field : known) {
    if (!field.required) continue;
    const bool there = std::any_of(layout.columns.begin(), layout.columns.end(),
                                   [&](const auto& c) { return c.second == field.name; });
    if (!there) {
      wrong(field.name, "has no column in the header",
            "add the column, or map one to it in the sender's settings");
    }
  }
  return layout;
}

CsvValues ValuesOf(const CsvLayout& layout, const std::vector<std::string>& fields,
                   std::vector<v1::Trouble>* troubles) {
  CsvValues values;
  if (fields.size() != layout.width) {
    troubles->push_back(
        TroubleAt(v1::TROUBLE_KIND_FIELD_INVALID, "",
                  Cat("has ", fields.size(), " fields where the header has ", layout.width),
                  "put a field that holds the delimiter in quotes, and give each column a field"));
    return values;
  }
  for (const auto& [index, field] : layout.columns) {
    const std::string_view text = Strip(fields[index]);
    if (!fact::IsUtf8(text)) {
      troubles->push_back(TroubleAt(v1::TROUBLE_KIND_CHARACTER_SET, field, "is not UTF-8",
                                    "save the file as UTF-8"));
      continue;
    }
    if (!text.empty()) values.emplace_back(field, std::string(text));
  }
  return values;
}

bool ParseCsvDay(std::string_view text, std::string_view form, google::type::Date* day) {
  if (form.empty()) form = "YYYY-MM-DD";
  if (text.size() != form.size()) return false;
  int year = 0;
  int month = 0;
  int number = 0;
  for (size_t i = 0; i < form.size(); ++i) {
    int* part = form[i] == 'Y'   ? &year
                : form[i] == 'M' ? &month
                : form[i] == 'D' ? &number
                                 : nullptr;
    if (part == nullptr) {
      if (text[i] != form[i]) return false;
      continue;
    }
    if (text[i] < '0' || text[i] > '9') return false;
    *part = *part * 10 + (text[i] - '0');
  }
  day->set_year(year);
  day->set_month(month);
  day->set_day(number);
  return time::IsValid(*day);
}

RowFact ReadRow(v1::ImportKind kind, const CsvValues& values, const RowOptions& options) {
  RowFact out;
  for (const CsvField& field : FieldsOf(kind)) {
    if (field.required && ValueOf(values, field.name).empty()) {
      out.troubles.push_back(
          TroubleAt(v1::TROUBLE_KIND_FIELD_MISSING, field.name, "is missing", "give it"));
    }
  }
  RowReader reader(values, options, &out);
  if (kind == v1::IMPORT_KIND_UNITS) reader.Unit();
  if (kind == v1::IMPORT_KIND_OPENING_STOCK) reader.Stock();
  if (kind == v1::IMPORT_KIND_READINGS) reader.Reading();
  if (kind == v1::IMPORT_KIND_TEST_RESULTS) reader.Result();
  return out;
}

}  // namespace ferrule::exchange
