// A story told to a served depot over a real channel: facts at local times of the branch north, as
// they become known, and the answers at any point of it.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "ferrule/v1/cover_service.grpc.pb.h"
#include "ferrule/v1/depot_service.grpc.pb.h"
#include "ferrule/v1/ledger_service.grpc.pb.h"
#include "tests/service/served_depot.h"

namespace ferrule::testing {

// The settings of FoldSettings with payers: "federal" (three readings of 21 days, four facts, by
// the day), "strict" (needs an authorisation), "private" (every day) and "monthly"; procedures with
// joints and sides. Made up but for what tests/core/cover/published_test.cc gives the sources of.
std::string StorySettings();

// All times are local to Berlin unless they have an offset; the year 2026 has its settings.
class Story {
 public:
  Story();

  // What happened and became known at that time; must be accepted.
  v1::Receipt Tell(const std::string& at, const std::string& fact);
  v1::Receipt Tell(const std::string& at, const std::vector<std::string>& facts);
  // The same, when it has happened already and broken rules become questions.
  v1::Receipt Observe(const std::string& at, const std::string& fact);
  // Becomes known only at `known`.
  v1::Receipt TellLate(const std::string& at, const std::string& known, const std::string& fact,
                       bool observed = false);
  // The reasons for which it is refused; empty when it is accepted.
  std::vector<std::string> Refused(const std::string& at, const std::string& fact);
  std::vector<std::string> Refused(const std::string& at, const std::vector<std::string>& facts);
  // The depot's clock.
  void Now(const std::string& at);

  // A knee that is ready on the shelf on 2026-05-01, set up for that side.
  void ReadyKnee(const std::string& unit, const std::string& side = "SIDE_LEFT");
  // An order for a left knee, surgery 2026-05-14, discharge planned 2026-05-16, 21 days, payer
  // federal, taken on 2026-05-02.
  void TakeOrder(const std::string& order, const std::string& more = "");
  // The unit goes out with soft goods and a signature.
  void HandOver(const std::string& at, const std::string& unit, const std::string& order,
                const std::string& more = "");
  static std::string HandedOver(const std::string& unit, const std::string& order,
                                const std::string& more = "");
  void PickUp(const std::string& at, const std::string& unit, const std::string& order);
  // Operated 05-14, used from 05-15, home and set up 05-16 at noon.
  void UsualRental(const std::string& order = "R-1", const std::string& unit = "K-1");

  v1::OrderState Order(const std::string& order);
  v1::SubjectState OrderSubject(const std::string& order);
  v1::UnitState Unit(const std::string& unit);
  v1::AssessUnitResponse AssessUnit(const std::string& unit, const std::string& order = "");
  v1::AssessOrderResponse Missing(const std::string& order);
  v1::GetRentalEndsResponse Ends(const std::string& order);
  v1::GetDayLedgerResponse Days(const std::string& order, const std::string& known_at = "",
                                const std::string& through = "");
  v1::ReportDueResponse Due(const std::string& known_at = "");
  v1::ReportClaimsResponse Claims(const std::string& known_at = "", bool open = false);
  v1::ReportCorrectionsResponse Corrections(const std::string& order = "");
  v1::GetBoardResponse Board();
  int QuestionCount(const std::string& subject);

  ServedDepot& depot() { return depot_; }
  int64_t Us(const std::string& at) const;

 private:
  v1::Entry EntryOf(const std::string& at, const std::vector<std::string>& facts,
                    v1::EntryMode mode);
  grpc::Status Record(const v1::Entry& entry, v1::Receipt* receipt);
  v1::Receipt MustRecord(const v1::Entry& entry);

  ServedDepot depot_;
  std::shared_ptr<grpc::Channel> channel_;
  std::unique_ptr<v1::LedgerService::Stub> ledger_;
  std::unique_ptr<v1::DepotService::Stub> answers_;
  std::unique_ptr<v1::CoverService::Stub> cover_;
  int entries_ = 0;
};

// "COVERED WITHIN_COVER" for one day of a ledger; "no such day".
std::string DayOf(const v1::DayLedger& ledger, const std::string& day);
// "2026-05-16"; "none".
std::string DayText(const google::type::Date& date);
// "prescription 2026-06-05, due; cover 2026-06-04" with the days over behind each when over.
std::string EndsText(const v1::GetRentalEndsResponse& ends);
// "item, from supplier" of each, only those for billing when `to_bill`.
std::vector<std::string> MissingText(const v1::AssessOrderResponse& answer, bool to_bill);

}  // namespace ferrule::testing
