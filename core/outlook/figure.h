// A measure on its way: what is counted, with the record behind each count.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "core/outlook/records.h"
#include "core/outlook/turns.h"
#include "core/plan/survival.h"
#include "ferrule/v1/plan_service.pb.h"

namespace ferrule::outlook {

// What every measure is computed from.
class MeasureContext {
 public:
  MeasureContext(const Records& records, const v1::ReportMeasuresRequest& request,
                 int64_t first_day, int64_t last_day, int64_t at_us);

  const Records& records() const { return records_; }
  const std::vector<Turn>& turns() const { return turns_; }
  int64_t first_day() const { return first_day_; }
  int64_t last_day() const { return last_day_; }
  int64_t at_us() const { return at_us_; }
  bool explain() const { return request_.explain(); }
  int record_limit() const;

  // Whether a branch and class are asked about.
  bool Wants(const std::string& branch, const std::string& device_class) const;
  bool WantsUnit(const UnitRecord& unit, const UnitStep& step) const;
  bool WantsOrder(const OrderRecord& order) const;
  bool WantsTurn(const Turn& turn) const;  // by its order, else by its unit's class
  absl::TimeZone ZoneOf(const std::string& branch) const;
  // Whether an instant lies in the window by the branch's days, and its day.
  bool Within(int64_t us, const std::string& branch) const;
  int64_t DayOf(int64_t us, const std::string& branch) const;
  // The window's instants at a branch.
  int64_t FromUs(const std::string& branch) const;
  int64_t ToUs(const std::string& branch) const;

 private:
  const Records& records_;
  const v1::ReportMeasuresRequest& request_;
  const int64_t first_day_, last_day_, at_us_;
  std::vector<Turn> turns_;
};

// One measure. Value is set by one of the Put functions, and by none when nothing was counted.
class Figure {
 public:
  Figure(const MeasureContext& context, const char* id, const char* heading, const char* text,
         const char* unit, const char* formula);

  // Names a record behind the figure; counted always, kept when asked for, up to the limit.
  void Record(const std::string& name, const std::string& text, double value, const FactKey& fact);
  // numerator / denominator times `scale`.
  void PutRatio(double numerator, double denominator, double scale, int64_t cases);
  // Times of which some still go on: median as the figure, median and 90 % as parts, by the
  // product-limit curve. A quantile that the curve does not reach is left out and said so.
  void PutTimes(const std::vector<plan::Stay>& times);
  void PutPart(const std::string& text, double value, int64_t cases, const char* unit = "");
  void Missing(const std::string& text) { measure_.set_missing(text); }
  void Open(int64_t count) { measure_.set_open_count(count); }

  v1::Measure Take() { return std::move(measure_); }

 private:
  const MeasureContext& context_;
  v1::Measure measure_;
};

// Where a fact is: filled in with time and actor by the service, which can ask the ledger.
void PutKey(const FactKey& fact, v1::Stamp* stamp);
FactKey KeyOf(const v1::Stamp& stamp);

// What bills say of the days first to last of an order, in hundredths of the currency: each bill
// spread evenly over its days, a correction in the place of what was billed before for a day.
double BilledMinor(const OrderRecord& order, int64_t first_day, int64_t last_day);

inline constexpr double kDayUs = 86'400.0 * 1'000'000;

// The measures, by the people who look at them.
std::vector<v1::Measure> FleetMeasures(const MeasureContext& context);
std::vector<v1::Measure> FieldMeasures(const MeasureContext& context);
std::vector<v1::Measure> BenchMeasures(const MeasureContext& context);
std::vector<v1::Measure> DemandMeasures(const MeasureContext& context);
std::vector<v1::Measure> PromiseMeasures(const MeasureContext& context);
std::vector<v1::Measure> HomeMeasures(const MeasureContext& context);
std::vector<v1::Measure> MoneyMeasures(const MeasureContext& context);

}  // namespace ferrule::outlook
