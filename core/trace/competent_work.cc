#include "core/trace/competent_work.h"

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "core/access/competence.h"
#include "core/fact/subject.h"
#include "core/guard/rules.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"

namespace ferrule::trace {
namespace {

// Common practice, no source: work that a depot lets only trained people do.
constexpr const char* kUsual[] = {"set_up_done", "inspection_done", "repair_closed",
                                  "service_done"};

using Place = std::pair<std::string, int>;  // entry, fact

class Works {
 public:
  Works(ledger::Ledger& ledger, const v1::ListCompetentWorkRequest& request,
        const v1::AccessRules& rules)
      : ledger_(ledger), request_(request), rules_(rules) {}

  absl::Status Read() {
    bool readable = true;
    absl::Status status = ledger_.Read(0, "", [&](const ledger::Recorded& recorded) {
      v1::LedgerEntry entry;
      readable =
          entry.ParseFromArray(recorded.bytes.data(), static_cast<int>(recorded.bytes.size()));
      if (readable) Take(entry.entry());
      return readable;
    });
    if (status.ok() && !readable) {
      status = absl::DataLossError("a stored entry cannot be read; run: ferruled verify");
    }
    return status;
  }

  // Without what was reversed, judged.
  std::vector<v1::CompetentWork> Judge() {
    std::vector<v1::CompetentWork> out;
    for (v1::CompetentWork& work : works_) {
      if (reversed_.count({work.fact().entry_id(), work.fact().index()}) > 0) continue;
      const absl::CivilDay day =
          time::LocalDay(time::ToMicros(work.happened_time()), ZoneOf(work.subject()));
      work.set_competent(access::MayHaveDone(rules_, work.person(), work.work(), day));
      work.set_on_record(access::IsOnRecord(rules_, work.work()));
      work.set_rules_version(rules_.version());
      if (!request_.lacking_only() || !work.competent()) out.push_back(std::move(work));
    }
    return out;
  }

 private:
  void Take(const v1::Entry& entry) {
    for (int i = 0; i < entry.facts_size(); ++i) {
      const v1::Fact& fact = entry.facts(i);
      if (fact.has_reversal()) {
        const v1::FactRef& ref = fact.reversal().fact();
        reversed_.insert({ref.entry_id(), ref.index()});
      }
      if (Fits(entry, fact)) Add(entry, i);
    }
  }

  bool Fits(const v1::Entry& entry, const v1::Fact& fact) const {
    const auto& asked = rules_.competence_for();
    const std::string_view kind = access::KindOf(fact);
    if (std::find(asked.begin(), asked.end(), kind) == asked.end()) return false;
    if (!request_.person().empty() && entry.actor() != request_.person()) return false;
    const int64_t us = time::ToMicros(fact.happened_time());
    if (request_.has_from_time() && us < time::ToMicros(request_.from_time())) return false;
    return !request_.has_to_time() || us < time::ToMicros(request_.to_time());
  }

  void Add(const v1::Entry& entry, int index) {
    v1::CompetentWork& work = works_.emplace_back();
    work.mutable_fact()->set_entry_id(entry.entry_id());
    work.mutable_fact()->set_index(index);
    *work.mutable_happened_time() = entry.facts(index).happened_time();
    work.set_person(entry.actor());
    work.set_work(std::string(access::KindOf(entry.facts(index))));
    const std::vector<std::string> subjects = fact::SubjectsOf(entry.facts(index));
    if (!subjects.empty()) work.set_subject(subjects.front());
  }

  // Zones are few and the same for all of a branch; looked up once a subject.
  absl::TimeZone ZoneOf(const std::string& subject) {
    const auto [known, is_new] = zones_.try_emplace(subject, absl::UTCTimeZone());
    if (!is_new) return known->second;
    const auto book = ledger_.Book();
    if (book == nullptr) return known->second;
    const depot::Rules& places = book->At(ledger_.clock().NowMicros());
    std::string branch;
    if (!places.settings().branches().empty()) branch = places.settings().branches(0).id();
    const auto state = ledger_.Get(subject);
    if (state.ok() && *state != nullptr) {
      if ((*state)->has_order()) branch = (*state)->order().details().branch();
      const v1::Branch* here =
          (*state)->has_unit() ? places.BranchOfPlace((*state)->unit().place()) : nullptr;
      if (here != nullptr) branch = here->id();
    }
    known->second = places.ZoneOf(branch);
    return known->second;
  }

  ledger::Ledger& ledger_;
  const v1::ListCompetentWorkRequest& request_;
  const v1::AccessRules& rules_;
  std::vector<v1::CompetentWork> works_;
  std::set<Place> reversed_;
  std::map<std::string, absl::TimeZone> zones_;
};

// The rules of now, asking for the kinds that are to be looked at.
absl::StatusOr<v1::AccessRules> RulesFor(ledger::Ledger& ledger,
                                         const v1::ListCompetentWorkRequest& request,
                                         int64_t now_us) {
  guard::AccessRulesBook book(&ledger);
  const auto version = book.At(now_us);
  if (!version.ok()) return version.status();
  v1::AccessRules rules;
  if (*version != nullptr) rules = (*version)->rules();
  if (!request.work().empty()) {
    rules.clear_competence_for();
    rules.add_competence_for(request.work());
  } else if (rules.competence_for().empty()) {
    for (const char* kind : kUsual) rules.add_competence_for(kind);
  }
  return rules;
}

}  // namespace

absl::StatusOr<v1::ListCompetentWorkResponse> ListCompetentWork(
    ledger::Ledger& ledger, const v1::ListCompetentWorkRequest& request, int64_t now_us) {
  const auto rules = RulesFor(ledger, request, now_us);
  if (!rules.ok()) return rules.status();
  Works works(ledger, request, *rules);
  if (absl::Status read = works.Read(); !read.ok()) return read;
  std::vector<v1::CompetentWork> judged = works.Judge();
  v1::ListCompetentWorkResponse response;
  response.set_work_count(static_cast<int64_t>(judged.size()));
  *response.mutable_asked_kinds() = rules->competence_for();
  // The ledger only grows, and what is listed by it stays in its place unless it is reversed.
  size_t from = 0;
  if (!request.page_token().empty() && !absl::SimpleAtoi(request.page_token(), &from)) {
    return absl::InvalidArgumentError("page_token is not one that this list gave");
  }
  const size_t to = std::min(judged.size(), from + static_cast<size_t>(request.page_size()));
  for (size_t i = from; i < to; ++i) *response.add_works() = std::move(judged[i]);
  if (to < judged.size()) response.set_next_page_token(absl::StrCat(to));
  return response;
}

}  // namespace ferrule::trace
