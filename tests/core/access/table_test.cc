#include "core/access/table.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <string>

#include "ferrule/v1/access_service.pb.h"
#include "ferrule/v1/bench_service.pb.h"
#include "ferrule/v1/cover_service.pb.h"
#include "ferrule/v1/depot_service.pb.h"
#include "ferrule/v1/intake_service.pb.h"
#include "ferrule/v1/label_service.pb.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "ferrule/v1/papers_service.pb.h"
#include "ferrule/v1/plan_service.pb.h"
#include "ferrule/v1/promise_service.pb.h"
#include "ferrule/v1/stock_service.pb.h"
#include "ferrule/v1/trace_service.pb.h"

namespace ferrule::access {
namespace {

// Every method of the package. A file of services that is not named here is missed by
// EveryFileOfServicesIsWalked.
std::set<std::string> Methods() {
  std::set<std::string> out;
  for (const auto* file :
       {v1::GetCallerRequest::descriptor()->file(), v1::ReportBenchRequest::descriptor()->file(),
        v1::GetDayLedgerRequest::descriptor()->file(), v1::GetUnitRequest::descriptor()->file(),
        v1::SubmitMessageRequest::descriptor()->file(),
        v1::ResolveScanRequest::descriptor()->file(), v1::RecordRequest::descriptor()->file(),
        v1::GetPaperRequest::descriptor()->file(), v1::GetForecastRequest::descriptor()->file(),
        v1::AssessFitRequest::descriptor()->file(), v1::ListStockRequest::descriptor()->file(),
        v1::ListHoldersRequest::descriptor()->file()}) {
    for (int i = 0; i < file->service_count(); ++i) {
      for (int k = 0; k < file->service(i)->method_count(); ++k) {
        out.insert("/" + file->service(i)->full_name() + "/" + file->service(i)->method(k)->name());
      }
    }
  }
  return out;
}

TEST(AccessTable, EveryFileOfServicesIsWalked) {
  std::set<std::string> walked;
  for (const std::string& method : Methods())
    walked.insert(method.substr(1, method.rfind('/') - 1));
  size_t found = 0;
  for (const auto& entry : std::filesystem::directory_iterator(FERRULE_PROTO_FOLDER)) {
    std::ifstream file(entry.path());
    for (std::string line; std::getline(file, line);) {
      if (line.rfind("service ", 0) != 0) continue;
      const std::string name = line.substr(8, line.find_first_of(" {", 8) - 8);
      EXPECT_EQ(walked.count("ferrule.v1." + name), 1u)
          << entry.path() << ": name one of its messages in Methods()";
      ++found;
    }
  }
  EXPECT_EQ(found, walked.size());
}

TEST(AccessTable, ListsEveryMethodOnceAndNothingElse) {
  std::set<std::string> listed;
  for (const MethodRule& rule : MethodRules()) {
    EXPECT_TRUE(listed.insert(std::string(rule.path)).second) << rule.path;
  }
  for (const std::string& method : Methods()) {
    EXPECT_EQ(listed.count(method), 1u) << method << " is not in core/access/table.cc";
  }
  for (const std::string& path : listed) {
    const bool ours = path.rfind("/ferrule.", 0) == 0;
    EXPECT_TRUE(!ours || Methods().count(path) == 1) << path << " is no method";
  }
}

TEST(AccessTable, OpenToAnybodyIsHealthAlone) {
  for (const MethodRule& rule : MethodRules()) {
    EXPECT_EQ(rule.scope == Scope::kOpen, rule.path.find(".Health/") != std::string_view::npos)
        << rule.path;
  }
}

TEST(AccessTable, AsksForARightWhereverItIsNotByFactsOrForWhoeverIsKnown) {
  for (const MethodRule& rule : MethodRules()) {
    const bool without =
        rule.scope == Scope::kOpen || rule.scope == Scope::kKnown || rule.scope == Scope::kFacts;
    EXPECT_EQ(rule.right == v1::RIGHT_UNSPECIFIED, without) << rule.path;
  }
}

TEST(AccessTable, HasNoRuleForAnUnknownMethod) {
  EXPECT_EQ(RuleOf("/ferrule.v1.DepotService/DropEverything"), nullptr);
  EXPECT_EQ(RuleOf(""), nullptr);
}

TEST(AccessTable, EveryKindOfFactNeedsARightToRecord) {
  const auto* what = v1::Fact::descriptor()->FindOneofByName("what");
  ASSERT_GT(what->field_count(), 60);
  for (int i = 0; i < what->field_count(); ++i) {
    const auto right = RightFor(static_cast<v1::Fact::WhatCase>(what->field(i)->number()));
    EXPECT_NE(right, v1::RIGHT_UNSPECIFIED) << what->field(i)->name();
    EXPECT_FALSE(IsReading(right)) << what->field(i)->name();
  }
  EXPECT_EQ(RightFor(v1::Fact::WHAT_NOT_SET), v1::RIGHT_UNSPECIFIED);
}

}  // namespace
}  // namespace ferrule::access
