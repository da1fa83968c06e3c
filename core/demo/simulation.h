// The simulator's works: an event queue over the world of core/demo/world.h. Each step of a unit's
// or an order's life is one method; what it does to the records goes out as an entry.
#pragma once

#include <cstdint>
#include <queue>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/demo/calendar.h"
#include "core/demo/random.h"
#include "core/demo/scenario.h"
#include "core/demo/simulator.h"
#include "core/demo/world.h"

namespace ferrule::demo {

class Simulation {
 public:
  explicit Simulation(const Options& options);

  bool Next(Batch* batch);
  int64_t fact_count() const { return fact_count_; }
  int64_t end_us() const { return end_us_; }

 private:
  // How an entry travels.
  struct Way {
    v1::EntryMode mode = v1::ENTRY_MODE_ENFORCED;
    int64_t arrives_us = 0;  // 0: at once
  };

  // --- simulation.cc: set-up and the queue ------------------------------------------------------
  void PlanOpening();
  void BuildFleet();
  void Plan(Step step, int64_t at_us, uint32_t id, uint64_t token);
  void PlanUnit(Step step, int64_t at_us, uint32_t unit);    // replaces the unit's plan
  void PlanOrder(Step step, int64_t at_us, uint32_t order);  // replaces the order's plan
  void PlanAside(Step step, int64_t at_us, uint32_t order);  // beside the order's plan
  int64_t SettledBy(const Order& order) const;
  bool IsStale(const Event& event) const;
  void Run(const Event& event);
  void RunUnit(Step step, uint32_t unit);
  void RunOrder(Step step, uint32_t order);

  // --- compose.cc: entries and their parts ------------------------------------------------------
  v1::Entry Begin(const std::string& actor, const char* channel);
  v1::Fact* Add(v1::Entry* entry, int64_t at_us) const;
  void Send(v1::Entry entry) { Send(std::move(entry), Way()); }
  void Send(v1::Entry entry, Way way);
  void SendMove(uint32_t unit, Stand to, int16_t branch, int64_t at_us, const std::string& actor,
                const char* channel);
  void AddMove(v1::Entry* entry, uint32_t unit, Stand to, int16_t branch, int64_t at_us);
  // How a rep's handheld sends this time; late entries settle the subjects when they arrive.
  Way HandheldWay(Unit* unit, Order* order);
  std::string UnitTag(uint32_t unit) const;
  std::string PartTag(int model, int position, uint32_t number) const;
  std::string OrderId(const Order& order) const;
  std::string PlaceId(const Unit& unit) const;
  std::string PlaceId(int branch, Stand stand, int van) const;
  const std::string& Tech(int branch);
  const std::string& Rep(int branch);
  const v1::Model& ModelOf(const Unit& unit) const;
  void SetDate(int day, google::type::Date* date) const;
  void AddKit(Order* order, bool leave_one_out,
              google::protobuf::RepeatedPtrField<v1::KitItem>* kit);
  void SetMotion(const Order& order, int less_flexion_deg, v1::Motion* motion) const;

  // --- orders.cc: from the order to the hold ----------------------------------------------------
  void RunOrderDay(uint32_t branch);
  uint32_t NewOrder(int branch, int device_class, int surgery_day);
  void FreeOrder(uint32_t order);
  void FollowUp(const Order& first, int surgery_day, bool other_side);
  int SurgeryDayNear(int day);
  void TakeOrder(uint32_t order);
  void FillDetails(Order& order, v1::OrderDetails* details);
  void SetPayerDates(Order& order, v1::OrderDetails* details);
  void CompleteOrder(uint32_t order);
  void MoveOrder(uint32_t order);
  void CancelOrder(uint32_t order, const char* reason);
  void PlanAllocation(uint32_t order);
  void Allocate(uint32_t order);
  void PlanLoad(uint32_t order);
  uint32_t FindReady(uint32_t order);
  uint32_t TakeFromReady(int branch, const Order& order);
  void ReleaseHold(uint32_t order, const char* reason, v1::Entry* entry);

  // --- rentals.cc: from the van to the pick-up --------------------------------------------------
  void Load(uint32_t order);
  void Deliver(uint32_t order);
  void HandOver(uint32_t order);
  void PlanRental(uint32_t order);
  int DueDay(const Order& order) const;
  void LoadExchange(uint32_t order);
  void Exchange(uint32_t order);
  void Extend(uint32_t order);
  void AgreePickup(uint32_t order);
  void Pickup(uint32_t order);
  void FinishPickup(uint32_t order);
  void ReturnBeforePickup(uint32_t order, v1::Entry pickup);
  v1::OrderDetails* AddChange(const Order& order, v1::Entry* entry) const;
  void PlanPickup(uint32_t order, int day);
  void AddFirstUse(const Order& order, v1::Entry* entry) const;
  void ReadMeter(uint32_t unit, int64_t at_us, v1::Entry* entry);

  // --- turnaround.cc: from the dock to the shelf ------------------------------------------------
  void ReceiveUnit(uint32_t unit);
  void ReceiveBack(uint32_t unit);
  void PlanCleaning(uint32_t unit);
  int64_t OfficeTime(int branch, int64_t us);
  int64_t Ago(const Unit& unit, int minutes) const;
  void ToBay(uint32_t unit);
  void FinishCleaning(uint32_t unit);
  void Inspect(uint32_t unit);
  void FinishRepair(uint32_t unit);
  void ServiceOnShelf(uint32_t unit);
  void AfterInspection(uint32_t unit, bool passed);
  bool SendInspection(uint32_t unit, double yield, int64_t at_us);
  void AddReadings(const v1::Checklist& checklist, bool pass, v1::InspectionDone* inspection);
  void FitMissingParts(uint32_t unit, int64_t at_us);
  void FitPart(uint32_t unit, int position, uint32_t number, int64_t at_us, v1::Entry* entry);
  void RemovePart(uint32_t unit, int position, int64_t at_us, v1::Entry* entry);
  void ChangePart(uint32_t unit, int64_t at_us);
  uint32_t FindDonor(uint32_t unit, int position);
  void MaybeService(uint32_t unit, int days_ahead, int hours_ahead, int64_t at_us);
  // Days kept clear of the next service beyond a rental's planned end.
  static constexpr int kServiceMarginDays = 30;
  bool ServiceDueWithin(const Unit& unit, int days, int hours) const;
  void AddToReady(uint32_t unit);
  void RemoveFromReady(uint32_t unit);

  // --- mishaps.cc: what goes wrong --------------------------------------------------------------
  void Recall();
  void LiftRecall(uint32_t unit);
  void LoseUnit();
  void MissingAtHome(uint32_t order);
  void FindOrWriteOff(uint32_t unit);
  void AddTreatment(uint32_t unit, v1::Entry* entry);
  void EndQuarantine(uint32_t unit);
  bool MaybeQuarantine(uint32_t unit, v1::Entry* entry);
  bool MaybeMistypeReading(uint32_t unit);
  void CorrectReading(uint32_t unit);
  // Has a question answered that an observed entry, known from then on, opens.
  void AskLater(std::string subject, std::string entry_id, v1::Reason rule, int branch,
                int64_t known_us);
  void AnswerQuestion(uint32_t slot);
  void PutSettings();
  const v1::Settings& EditionAt(int64_t us) const;

  Options options_;
  Random random_;
  std::vector<v1::Settings> editions_;
  Calendar calendar_;
  int branch_count_;
  int64_t start_us_ = 0;
  int64_t end_us_ = 0;
  int64_t second_edition_us_ = 0;  // in force from

  std::vector<Unit> units_;
  std::vector<Order> orders_;
  std::vector<uint32_t> free_orders_;
  std::vector<BranchStock> stock_;
  std::vector<std::vector<double>> units_at_;    // by branch, by class: sets demand
  std::vector<std::vector<std::string>> techs_;  // by branch
  std::vector<std::vector<std::string>> reps_;
  std::vector<std::string> desks_;
  std::vector<std::string> kit_items_;

  struct Later {
    bool operator()(const Event& a, const Event& b) const {
      return a.at_us != b.at_us ? a.at_us > b.at_us : a.tie > b.tie;
    }
  };
  std::priority_queue<Event, std::vector<Event>, Later> events_;
  std::vector<v1::Entry> late_;  // entries on their way, by slot
  std::vector<uint32_t> free_late_;
  struct Mistyped {
    uint32_t unit;
    std::string entry_id;
    int64_t right_s;
  };
  std::vector<Mistyped> mistyped_;
  struct Flaw {
    std::string subject;
    std::string entry_id;
    v1::Reason rule;
  };
  std::vector<Flaw> flaws_;  // by slot
  std::vector<uint32_t> free_flaws_;

  std::vector<v1::Entry> out_;
  size_t out_taken_ = 0;
  int64_t window_end_us_ = 0;
  int64_t now_us_ = 0;
  uint64_t next_tie_ = 0;
  uint64_t next_life_ = 0;
  int64_t next_entry_ = 0;
  uint64_t next_order_ = 0;
  uint32_t next_patient_ = 0;
  uint32_t next_part_ = 0;
  uint32_t next_lot_ = 0;
  int64_t fact_count_ = 0;
};

}  // namespace ferrule::demo
