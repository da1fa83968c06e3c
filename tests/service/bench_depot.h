// A served depot with a bench, for the exceptions of the dirty and the clean side told through the
// API alone. Everything in it is invented. Times are minutes after kStartUs, a Monday morning.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/finding/catalog.h"
#include "ferrule/v1/bench_service.grpc.pb.h"
#include "tests/service/served_depot.h"
#include "tests/support/bench_settings.h"
#include "tests/support/entries.h"

namespace ferrule::testing {

class BenchDepot : public ::testing::Test {
 protected:
  BenchDepot()
      : ledger_(v1::LedgerService::NewStub(depot_.Channel(Transport::kTcp))),
        reads_(v1::DepotService::NewStub(depot_.Channel(Transport::kTcp))),
        bench_(v1::BenchService::NewStub(depot_.Channel(Transport::kTcp))) {
    depot_.clock().Set(kStartUs);
    Must(-kDayMin, absl::StrCat("settings_put { settings {", BenchSettings(),
                                "} from_time { seconds: 1767225600 } }"));
  }

  static int64_t Us(int64_t at_min) { return kStartUs + at_min * kMinuteUs; }
  // Lets the depot's clock stand at that minute.
  void Now(int64_t at_min) { depot_.clock().Set(Us(at_min)); }

  // Records facts as one entry; the reasons of a refusal, or of the questions it opened.
  std::vector<std::string> Send(const std::vector<v1::Fact>& facts, v1::EntryMode mode) {
    v1::RecordRequest request;
    v1::Entry* entry = request.mutable_entry();
    entry->set_entry_id(absl::StrCat("e-", 1000 + entries_++));
    entry->set_actor("tech-ada");
    entry->set_mode(mode);
    for (const v1::Fact& fact : facts) *entry->add_facts() = fact;
    last_entry_ = entry->entry_id();
    grpc::ClientContext context;
    v1::RecordResponse response;
    const grpc::Status status = ledger_->Record(&context, request, &response);
    refused_ = !status.ok();
    if (refused_) {
      const v1::Refusal refusal = DetailsOf(status).refusal;
      EXPECT_GT(refusal.findings_size(), 0) << status.error_message();
      return Reasons(refusal.findings());
    }
    return Reasons(response.receipt().questions());
  }
  std::vector<std::string> Tell(int64_t at_min, const std::string& text, v1::EntryMode mode) {
    v1::Entry entry = EntryOf("x", Us(at_min), text);
    if (depot_.clock().NowMicros() < Us(at_min)) Now(at_min);
    return Send({entry.facts(0)}, mode);
  }
  // At the counter: the reasons of the refusal; none when it was recorded.
  std::vector<std::string> Enforce(int64_t at_min, const std::string& text) {
    return Tell(at_min, text, v1::ENTRY_MODE_ENFORCED);
  }
  // It has happened: the questions that it opened.
  std::vector<std::string> Observe(int64_t at_min, const std::string& text) {
    std::vector<std::string> questions = Tell(at_min, text, v1::ENTRY_MODE_OBSERVED);
    EXPECT_FALSE(refused_) << text;
    return questions;
  }
  void Must(int64_t at_min, const std::string& text) {
    const std::vector<std::string> reasons = Enforce(at_min, text);
    EXPECT_TRUE(reasons.empty() && !refused_) << text << " " << ::testing::PrintToString(reasons);
  }

  template <class Findings>
  static std::vector<std::string> Reasons(const Findings& findings) {
    std::vector<std::string> out;
    for (const v1::Finding& f : findings) out.emplace_back(finding::ReasonString(f.reason()));
    return out;
  }

  // Asks any of the three services.
  template <class Stub, class Base, class Request, class Response>
  Response Ask(const std::unique_ptr<Stub>& stub,
               grpc::Status (Base::*method)(grpc::ClientContext*, const Request&, Response*),
               const Request& request) {
    grpc::ClientContext context;
    Response response;
    const grpc::Status status = (stub.get()->*method)(&context, request, &response);
    EXPECT_TRUE(status.ok()) << status.error_message();
    return response;
  }

  v1::UnitState Unit(const std::string& unit) {
    v1::GetUnitRequest request;
    request.set_name("units/" + unit);
    return Ask(reads_, &v1::DepotService::Stub::GetUnit, request).state().unit();
  }
  v1::SubjectState Subject(const std::string& name) {
    v1::GetSubjectRequest request;
    request.set_name(name);
    return Ask(reads_, &v1::DepotService::Stub::GetSubject, request).state();
  }
  std::vector<std::string> Questions(const std::string& name) {
    return Reasons(Subject(name).questions());
  }
  v1::AssessUnitResponse Assess(const std::string& unit) {
    v1::AssessUnitRequest request;
    request.set_name("units/" + unit);
    return Ask(reads_, &v1::DepotService::Stub::AssessUnit, request);
  }
  std::vector<std::string> WhyNot(const std::string& unit) {
    return Reasons(Assess(unit).findings());
  }
  v1::ReportStraysResponse Strays() {
    return Ask(bench_, &v1::BenchService::Stub::ReportStrays, v1::ReportStraysRequest());
  }
  v1::ReportDueResponse Due() {
    return Ask(reads_, &v1::DepotService::Stub::ReportDue, v1::ReportDueRequest());
  }
  int HistoryRows(const std::string& name) {
    v1::ListHistoryRequest request;
    request.set_name(name);
    return Ask(reads_, &v1::DepotService::Stub::ListHistory, request).rows_size();
  }

  // Everyday steps.
  void Receive(const std::string& unit, int64_t at, const std::string& more = "") {
    Must(at, absl::StrCat("unit_received { unit: '", unit, "' model: 'knee-a' serial: 'S-", unit,
                          "' place: 'north-dock' meter_s: 360000 parts { part: 'P-", unit,
                          "' position: 'pendant' } ", more, " }"));
  }
  static std::string Cleaning(const std::string& unit, int64_t at, int64_t wet_s = 90,
                              const std::string& more = "") {
    const int64_t to_s = Us(at) / 1'000'000;
    return absl::StrCat("cleaning_finished { unit: '", unit, "' product: 'wipe' ", more,
                        " wet_from_time { seconds: ", to_s - wet_s,
                        " } wet_to_time { seconds: ", to_s, " } }");
  }
  static std::string Inspection(const std::string& unit, const std::string& earth = "0.2",
                                const std::string& tester = "T-1") {
    return absl::StrCat("inspection_done { unit: '", unit,
                        "' checklist: 'check' "
                        "checklist_version: '1' tester: '",
                        tester, "' readings { item: 'earth' value: ", earth, " } }");
  }
  static std::string Moved(const std::string& unit, const std::string& place) {
    return absl::StrCat("unit_moved { unit: '", unit, "' to_place: '", place, "' }");
  }
  void MakeReady(const std::string& unit, int64_t at) {
    Must(at, Cleaning(unit, at));
    Must(at + 1, Inspection(unit));
    Must(at + 2, Moved(unit, "north-shelf"));
  }
  // Ready on the shelf three minutes after `at`.
  void ReadyKnee(const std::string& unit, int64_t at = 0) {
    Receive(unit, at);
    MakeReady(unit, at + 1);
  }
  void TakeOrder(const std::string& order, int64_t at, const std::string& more = "") {
    Must(at, absl::StrCat("order_taken { order: '", order,
                          "' details { patient: 'P-1' prescriber: 'D-1' branch: 'north' "
                          "device_class: 'knee' side: SIDE_LEFT procedure: 'knee replacement' "
                          "surgery_date { year: 2026 month: 3 day: 3 } length_of_need_days: 21 "
                          "motion { extension_deg: 0 flexion_deg: 90 speed_deg_per_min: 60 } ",
                          more, " } }"));
  }
  static std::string HandOver(
      const std::string& unit, const std::string& order,
      const std::string& kit = "kit { item: 'pad-set' lot: 'L-1' piece_count: 1 }") {
    return absl::StrCat("handed_over { unit: '", unit, "' order: '", order,
                        "' unit_model: 'knee-a' signed_by: 'patient' accessories: 'pendant' "
                        "accessories: 'foot-plate' ",
                        kit, " }");
  }
  // On rent with the order from minute `at` + 5.
  void Rent(const std::string& unit, const std::string& order, int64_t at) {
    ReadyKnee(unit, at);
    TakeOrder(order, at + 4);
    Must(at + 5, HandOver(unit, order));
  }
  static std::string PickUp(const std::string& unit, const std::string& order,
                            const std::string& more = "", const std::string& van = "van1-dirty") {
    return absl::StrCat("picked_up { unit: '", unit, "' order: '", order, "' to_place: '", van,
                        "' ", more, " }");
  }
  static std::string ReceiveBack(const std::string& unit, const std::string& more = "",
                                 const std::string& place = "north-dock") {
    return absl::StrCat("received_back { unit: '", unit, "' place: '", place, "' ", more, " }");
  }

  ServedDepot depot_;
  std::unique_ptr<v1::LedgerService::Stub> ledger_;
  std::unique_ptr<v1::DepotService::Stub> reads_;
  std::unique_ptr<v1::BenchService::Stub> bench_;
  std::string last_entry_;
  bool refused_ = false;
  int entries_ = 0;
};

}  // namespace ferrule::testing
