#include "core/outlook/figure.h"

#include <algorithm>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "core/time/civil.h"

namespace ferrule::outlook {

MeasureContext::MeasureContext(const Records& records, const v1::ReportMeasuresRequest& request,
                               int64_t first_day, int64_t last_day, int64_t at_us)
    : records_(records),
      request_(request),
      first_day_(first_day),
      last_day_(last_day),
      at_us_(at_us),
      turns_(TurnsOf(records)) {}

int MeasureContext::record_limit() const {
  return request_.record_limit() <= 0 ? 50 : std::min(request_.record_limit(), 1000);
}

bool MeasureContext::Wants(const std::string& branch, const std::string& device_class) const {
  return (request_.branch().empty() || branch == request_.branch()) &&
         (request_.device_class().empty() || device_class == request_.device_class());
}

bool MeasureContext::WantsUnit(const UnitRecord& unit, const UnitStep& step) const {
  if (request_.branch().empty()) return Wants("", unit.device_class);
  return Wants(BranchOf(records_, step), unit.device_class);
}

bool MeasureContext::WantsOrder(const OrderRecord& order) const {
  return Wants(order.branch, order.device_class);
}

bool MeasureContext::WantsTurn(const Turn& turn) const {
  const OrderRecord* order = records_.FindOrder(turn.order);
  if (order != nullptr) return WantsOrder(*order);
  return request_.branch().empty() && Wants("", records_.units[turn.unit].device_class);
}

absl::TimeZone MeasureContext::ZoneOf(const std::string& branch) const {
  return records_.rules().ZoneOf(branch);
}

bool MeasureContext::Within(int64_t us, const std::string& branch) const {
  if (us == kNever) return false;
  const int64_t day = DayOf(us, branch);
  return day >= first_day_ && day <= last_day_;
}

int64_t MeasureContext::DayOf(int64_t us, const std::string& branch) const {
  return time::DayNumber(time::LocalDay(us, ZoneOf(branch)));
}

int64_t MeasureContext::FromUs(const std::string& branch) const {
  return time::StartOfDayMicros(time::DayFromNumber(first_day_), ZoneOf(branch));
}

int64_t MeasureContext::ToUs(const std::string& branch) const {
  return std::min(at_us_,
                  time::StartOfDayMicros(time::DayFromNumber(last_day_) + 1, ZoneOf(branch)));
}

Figure::Figure(const MeasureContext& context, const char* id, const char* heading, const char* text,
               const char* unit, const char* formula)
    : context_(context) {
  measure_.set_measure(id);
  measure_.set_heading(heading);
  measure_.set_text(text);
  measure_.set_unit(unit);
  measure_.set_formula(formula);
}

void Figure::Record(const std::string& name, const std::string& text, double value,
                    const FactKey& fact) {
  measure_.set_record_count(measure_.record_count() + 1);
  if (!context_.explain() || measure_.records_size() >= context_.record_limit()) return;
  v1::MeasureRecord& record = *measure_.add_records();
  record.set_name(name);
  record.set_text(text);
  record.set_value(value);
  if (fact.sequence > 0) PutKey(fact, record.mutable_stamp());
}

void Figure::PutRatio(double numerator, double denominator, double scale, int64_t cases) {
  measure_.set_numerator_value(numerator);
  measure_.set_denominator_value(denominator);
  measure_.set_case_count(cases);
  if (denominator > 0) measure_.set_value(scale * numerator / denominator);
}

void Figure::PutTimes(const std::vector<plan::Stay>& times) {
  measure_.set_case_count(static_cast<int64_t>(times.size()));
  measure_.set_open_count(
      std::count_if(times.begin(), times.end(), [](const plan::Stay& s) { return !s.ended; }));
  if (times.empty()) return;
  const auto curve = plan::ProductLimit(times);
  if (!curve.ok()) return;
  double sum = 0;
  for (const plan::Stay& stay : times) sum += stay.exit;
  measure_.set_numerator_value(sum);
  measure_.set_denominator_value(static_cast<double>(times.size()));
  const double median = curve->Quantile(.5), ninety = curve->Quantile(.9);
  if (median >= 0) {
    measure_.set_value(median);
    PutPart("median", median, measure_.case_count());
  }
  if (ninety >= 0) PutPart("90 %", ninety, measure_.case_count());
  if (median < 0 || ninety < 0) {
    Missing("so many cases are still open that the curve does not come down to every share");
  }
}

void Figure::PutPart(const std::string& text, double value, int64_t cases, const char* unit) {
  v1::MeasurePart& part = *measure_.add_parts();
  part.set_text(text);
  part.set_value(value);
  part.set_case_count(cases);
  part.set_unit(unit);
}

void PutKey(const FactKey& fact, v1::Stamp* stamp) {
  stamp->mutable_fact()->set_entry_id(absl::StrCat(fact.sequence));
  stamp->mutable_fact()->set_index(fact.index);
}

FactKey KeyOf(const v1::Stamp& stamp) {
  FactKey key;
  if (!absl::SimpleAtoi(stamp.fact().entry_id(), &key.sequence)) return {};
  key.index = stamp.fact().index();
  return key;
}

}  // namespace ferrule::outlook
