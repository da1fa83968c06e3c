#include "core/ledger/group.h"

#include <algorithm>
#include <iterator>

#include "absl/container/flat_hash_set.h"
#include "absl/strings/cord.h"
#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/finding/catalog.h"
#include "core/fold/fold.h"
#include "core/fold/zone.h"
#include "core/ledger/chain.h"
#include "core/ledger/ledger.h"
#include "core/ledger/queries.h"
#include "core/ledger/span_rows.h"
#include "core/ledger/state_rows.h"
#include "core/time/civil.h"
#include "google/rpc/error_details.pb.h"

namespace ferrule::ledger {
namespace {

using store::Value;

bool SameFinding(const v1::Finding& a, const v1::Finding& b) {
  if (a.reason() != b.reason() || a.fact().index() != b.fact().index() ||
      a.fact().entry_id() != b.fact().entry_id() || a.values_size() != b.values_size()) {
    return false;
  }
  for (int i = 0; i < a.values_size(); ++i) {
    if (a.values(i).key() != b.values(i).key() || a.values(i).value() != b.values(i).value()) {
      return false;
    }
  }
  return true;
}

// Whether the state has the question, which mostly still stands where it stood.
bool Asks(const v1::SubjectState& state, const v1::Finding& question, int likely) {
  const auto& questions = state.questions();
  if (likely < questions.size() && SameFinding(question, questions[likely])) return true;
  return std::any_of(questions.begin(), questions.end(),
                     [&](const v1::Finding& old) { return SameFinding(question, old); });
}

absl::Status ReusedId(const v1::Entry& entry) {
  absl::Status status = MalformedEntry(
      {{"entry.entry_id", absl::StrCat("REQUEST_ID_REUSED: ", entry.entry_id(),
                                       " was used before for an entry with other content; send "
                                       "this one under a new entry id")}});
  google::rpc::ErrorInfo info;
  info.set_reason("REQUEST_ID_REUSED");
  info.set_domain("ferrule");
  (*info.mutable_metadata())["entry_id"] = entry.entry_id();
  status.SetPayload("type.googleapis.com/google.rpc.ErrorInfo",
                    absl::Cord(info.SerializeAsString()));
  return status;
}

// The findings for which an enforced entry is refused: about its own facts, and about facts
// recorded before that would no longer be in order after it (two clerks who promise one unit, the
// second with the earlier time). A correction of the records is not refused for what it brings to
// light.
std::vector<v1::Finding> FindingsAgainst(const v1::Entry& entry,
                                         const std::vector<v1::Finding>& questions) {
  const bool corrects = std::any_of(entry.facts().begin(), entry.facts().end(),
                                    [](const v1::Fact& fact) { return fact.has_reversal(); });
  std::vector<v1::Finding> out;
  for (const v1::Finding& question : questions) {
    if (!corrects || question.fact().entry_id() == entry.entry_id()) out.push_back(question);
  }
  return out;
}

// An answer to a question that is not open, in the words in which a fold finds one that names a
// fact unknown to the subject.
v1::Finding AnsweredInVain(const fact::FactView& view, const std::string& subject) {
  v1::Finding finding;
  finding.set_reason(v1::REASON_QUESTION_NOT_OPEN);
  finding.set_subject(subject);
  finding.mutable_fact()->set_entry_id(view.entry->entry_id());
  finding.mutable_fact()->set_index(view.index);
  time::SetMicros(view.happened_us, finding.mutable_time());
  const v1::FactRef& named = view.fact().question_answered().fact();
  v1::FindingValue* item = finding.add_values();
  item->set_key("item");
  item->set_value(absl::StrCat(named.entry_id(), "#", named.index()));
  return finding;
}

bool StandsInOrder(const v1::Finding& a, const v1::Finding& b) { return a.reason() < b.reason(); }

}  // namespace

absl::StatusOr<HeadRow> ReadHead(store::Connection& connection) {
  HeadRow head;
  bool found = false;
  absl::Status status = connection.Run(sql::kHead, {}, [&](const store::Row& row) {
    found = true;
    head.sequence = row.Int(0);
    head.recorded_us = row.Int(1);
    head.digest = std::string(row.Bytes(2));
    head.next_subject_id = row.Int(3);
    head.max_happened_us = row.IsNull(4) ? INT64_MIN : row.Int(4);
    head.epoch = std::string(row.Bytes(5));
    head.label = std::string(row.Bytes(6));
  });
  if (!status.ok()) return status;
  if (!found) {
    return absl::DataLossError("the ledger has no head row; restore a backup: ferruled restore");
  }
  return head;
}

Group::Group(store::Connection& writer, const StateCache& cache,
             std::shared_ptr<const depot::SettingsBook> book, HeadRow head, int64_t now_us)
    : writer_(writer),
      cache_(cache),
      book_(std::move(book)),
      head_(std::move(head)),
      recorded_us_(std::max(now_us, head_.recorded_us)) {}

absl::Status Group::Decide(std::vector<Item>& items) {
  absl::Status status = LoadEarlier(items);
  if (!status.ok()) return status;
  status = LoadStates(items);
  if (status.ok()) status = LoadHistories(LooksLate(items));
  if (!status.ok()) return status;
  for (Item& item : items) {
    if (!item.prepared->malformed.ok()) {
      item.outcome = item.prepared->malformed;
      continue;
    }
    if (AnswerRepeat(item)) continue;
    status = DecideItem(item);
    if (!status.ok()) return status;
  }
  return absl::OkStatus();
}

absl::Status Group::LoadEarlier(const std::vector<Item>& items) {
  std::vector<Value> keys;
  std::vector<const Prepared*> asked;
  for (const Item& item : items) {
    if (!item.prepared->malformed.ok()) continue;
    keys.push_back(Value::Int(item.prepared->key));
    keys.push_back(Value::Text(item.prepared->entry.entry_id()));
    asked.push_back(item.prepared);
  }
  bool damaged = false;
  absl::Status status =
      writer_.RunMany(sql::kEarlier, 2, keys, [&](size_t i, const store::Row& row) {
        damaged |= row.Int(0) == 0 ? !SeeEntry(*asked[i], row) : !SeeRefusal(*asked[i], row);
      });
  if (!status.ok()) return status;
  if (damaged) return absl::DataLossError("a stored entry cannot be read; run: ferruled verify");
  return absl::OkStatus();
}

bool Group::SeeEntry(const Prepared& prepared, const store::Row& row) {
  v1::LedgerEntry stored;
  std::string_view bytes = row.Bytes(1);
  if (!stored.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return false;
  const std::string& id = prepared.entry.entry_id();
  if (stored.entry().entry_id() != id) return true;
  v1::Receipt receipt;
  std::string_view kept = row.Bytes(3);
  if (!receipt.ParseFromArray(kept.data(), static_cast<int>(kept.size()))) return false;
  receipt.set_entry_id(id);
  receipt.set_sequence(stored.sequence());
  *receipt.mutable_recorded_time() = stored.recorded_time();
  receipt.set_digest(std::string(row.Bytes(2)));
  receipt.set_repeated(true);
  const bool same = Prepare(stored.entry()).bytes == prepared.bytes;
  earlier_.insert_or_assign(id, Earlier{same, std::move(receipt)});
  return true;
}

bool Group::SeeRefusal(const Prepared& prepared, const store::Row& row) {
  // Only a digest of a refused entry is kept: the same digest means the same bytes.
  const bool same = Sha256(prepared.bytes) == row.Bytes(2);
  earlier_.insert_or_assign(prepared.entry.entry_id(),
                            Earlier{same, StatusFromRemembered(row.Bytes(1))});
  return true;
}

bool Group::AnswerRepeat(Item& item) {
  const std::string& id = item.prepared->entry.entry_id();
  if (auto it = earlier_.find(id); it != earlier_.end()) {
    item.outcome = it->second.same_content ? it->second.outcome : ReusedId(item.prepared->entry);
    return true;
  }
  auto it = decided_.find(id);
  if (it == decided_.end()) return false;
  const Item& first = *it->second;
  if (first.prepared->bytes != item.prepared->bytes) {
    item.outcome = ReusedId(item.prepared->entry);
  } else if (first.outcome.ok()) {
    item.outcome = first.outcome;
    item.outcome->set_repeated(true);
  } else {
    item.outcome = StatusFromRemembered(RememberedForm(first.outcome.status()));
  }
  return true;
}

absl::Status Group::LoadStates(const std::vector<Item>& items) {
  std::vector<const std::string*> missing;
  for (const Item& item : items) {
    for (const std::vector<std::string>& names : item.prepared->subjects) {
      for (const std::string& name : names) {
        auto [it, is_new] = working_.try_emplace(name);
        if (!is_new) continue;
        if (std::optional<Known> known = cache_.Find(name)) {
          it->second.id = known->id;
          it->second.committed = it->second.current = known->state;
        } else {
          missing.push_back(&name);
        }
      }
    }
  }
  if (missing.empty()) return absl::OkStatus();
  std::vector<Value> parameters;
  for (const std::string* name : missing) parameters.push_back(Value::Text(*name));
  bool damaged = false;
  absl::Status status =
      writer_.RunMany(sql::kStateByName, 1, parameters, [&](size_t i, const store::Row& row) {
        auto state = std::make_shared<v1::SubjectState>();
        std::string_view bytes = row.Bytes(1);
        damaged |= !state->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
        Working& working = working_[*missing[i]];
        working.id = row.Int(0);
        working.committed = working.current = std::move(state);
      });
  if (!status.ok()) return status;
  if (damaged) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return absl::OkStatus();
}

// The subjects of which a fact looks late, by what is stored or by what came before it in the
// group: their histories come in one go. Whoever turns out late all the same is loaded alone.
std::vector<std::string> Group::LooksLate(const std::vector<Item>& items) const {
  absl::flat_hash_map<absl::string_view, fact::FactView> newest;
  absl::flat_hash_set<absl::string_view> late;
  for (const Item& item : items) {
    if (earlier_.contains(item.prepared->entry.entry_id())) continue;  // a repeat
    for (size_t i = 0; i < item.prepared->subjects.size(); ++i) {
      const fact::FactView view =
          ViewOf(item.prepared->entry, static_cast<int>(i), recorded_us_, head_.sequence + 1);
      for (const std::string& name : item.prepared->subjects[i]) {
        const StatePtr& committed = working_.at(name).committed;
        if (committed == nullptr) continue;
        const auto [it, is_first] = newest.try_emplace(name, view);
        if (!fold::InOrder(view, *committed) || (!is_first && fact::Before(view, it->second))) {
          late.insert(name);
        }
        if (fact::Before(it->second, view)) it->second = view;
      }
    }
  }
  return {late.begin(), late.end()};
}

absl::Status Group::LoadHistories(const std::vector<std::string>& names) {
  std::vector<History*> histories;
  std::vector<int64_t> ids;
  for (const std::string& name : names) {
    Working& working = working_[name];
    working.stored = std::make_unique<History>();
    histories.push_back(working.stored.get());
    ids.push_back(working.id);
  }
  return History::Load(writer_, ids, head_.sequence, histories);
}

absl::Status Group::DecideItem(Item& item) {
  absl::StatusOr<std::vector<Touched>> touched = ApplyEntry(*item.prepared);
  if (!touched.ok()) return touched.status();
  std::vector<v1::Finding> questions = NewQuestions(*touched);
  if (item.prepared->entry.mode() != v1::ENTRY_MODE_OBSERVED) {
    std::vector<v1::Finding> against = FindingsAgainst(item.prepared->entry, questions);
    AddAnswersInVain(*touched, &against);
    if (!against.empty()) {
      Refuse(item, std::move(against));
      return absl::OkStatus();
    }
  }
  Accept(item, *std::move(touched), std::move(questions));
  return absl::OkStatus();
}

absl::StatusOr<std::vector<Group::Touched>> Group::ApplyEntry(const Prepared& prepared) {
  std::vector<Touched> touched;
  for (int i = 0; i < prepared.entry.facts_size(); ++i) {
    for (const std::string& name : prepared.subjects[i]) {
      auto it = std::find_if(touched.begin(), touched.end(),
                             [&](const Touched& t) { return *t.name == name; });
      if (it == touched.end()) {
        const StatePtr& current = working_[name].current;
        touched.push_back(
            {&name, current ? CopyOf(*current) : CopyOf(fold::Empty(name)), {}, {}, {}, {}});
        it = std::prev(touched.end());
        it->open = fold::OpenSpans(*it->state);
      }
      it->fact_indexes.push_back(i);
      const fact::FactView view = ViewOf(prepared.entry, i, recorded_us_, head_.sequence + 1);
      if (view.fact().has_question_answered() &&
          !fold::IsOpen(view.fact().question_answered(), *it->state)) {
        it->answered_in_vain.push_back(AnsweredInVain(view, name));
      }
      if (fold::InOrder(view, *it->state)) {
        fold::Apply(view, *book_, it->state.get());
        fold::NoteSpans(view, *it->state, &it->open, &it->spans);
        continue;
      }
      absl::Status status = FoldAgain(prepared, *it);
      if (!status.ok()) return status;
    }
  }
  return touched;
}

// A late fact or a reversal: the subject alone is folded again from all its facts.
absl::Status Group::FoldAgain(const Prepared& prepared, Touched& touched) {
  const Working& working = working_[*touched.name];
  std::vector<fact::FactView> views;
  if (working.stored != nullptr) {
    views = working.stored->views();
  } else if (working.committed != nullptr) {
    absl::Status status = LoadHistories({*touched.name});
    if (!status.ok()) return status;
    views = working.stored->views();
  }
  for (const Pending& p : working.pending) {
    views.push_back(ViewOf(p.prepared->entry, p.index, recorded_us_, p.sequence));
  }
  for (int index : touched.fact_indexes) {
    views.push_back(ViewOf(prepared.entry, index, recorded_us_, head_.sequence + 1));
  }
  touched.state = NewState();
  fold::Fold(*touched.name, std::move(views), *book_, touched.state.get(), &touched.spans);
  touched.open = fold::OpenSpans(*touched.state);
  return absl::OkStatus();
}

std::vector<v1::Finding> Group::NewQuestions(const std::vector<Touched>& touched) const {
  std::vector<v1::Finding> out;
  for (const Touched& t : touched) {
    const StatePtr& before = working_.at(*t.name).current;
    if (t.state->questions_size() == 0) continue;
    const absl::TimeZone zone = fold::ZoneOf(t.state.get(), book_->At(recorded_us_));
    for (int i = 0; i < t.state->questions_size(); ++i) {
      const v1::Finding& q = t.state->questions(i);
      if (before != nullptr && Asks(*before, q, i)) continue;
      out.push_back(q);
      finding::PutIntoWords(zone, &out.back());
    }
  }
  std::stable_sort(out.begin(), out.end(), StandsInOrder);
  return out;
}

// Whether a question was open when it was answered is known here alone: the folds see the facts in
// true time. An observed answer is kept all the same, and is spent.
void Group::AddAnswersInVain(const std::vector<Touched>& touched,
                             std::vector<v1::Finding>* out) const {
  for (const Touched& t : touched) {
    for (const v1::Finding& vain : t.answered_in_vain) {
      const bool raised = std::any_of(out->begin(), out->end(),
                                      [&](const v1::Finding& f) { return SameFinding(f, vain); });
      if (raised) continue;
      out->push_back(vain);
      finding::PutIntoWords(fold::ZoneOf(t.state.get(), book_->At(recorded_us_)), &out->back());
    }
  }
  std::stable_sort(out->begin(), out->end(), StandsInOrder);
}

void Group::Refuse(Item& item, std::vector<v1::Finding> findings) {
  constexpr int kMostFindings = 20;
  v1::Refusal refusal;
  refusal.set_finding_count(static_cast<int>(findings.size()));
  for (v1::Finding& f : findings) {
    if (refusal.findings_size() == kMostFindings) break;
    *refusal.add_findings() = std::move(f);
  }
  item.outcome = RefusedStatus(refusal);
  if (item.validate_only) return;
  decided_.insert_or_assign(item.prepared->entry.entry_id(), &item);
  refused_.push_back({item.prepared, RememberedForm(item.outcome.status())});
}

void Group::Accept(Item& item, std::vector<Touched> touched, std::vector<v1::Finding> questions) {
  const Prepared& prepared = *item.prepared;
  v1::Receipt receipt;
  for (v1::Finding& q : questions) *receipt.add_questions() = std::move(q);
  Accepted accepted{&prepared, "", "", "", head_.sequence + 1};
  if (receipt.questions_size() > 0) accepted.receipt = receipt.SerializeAsString();
  accepted.bytes = StoredBytes(accepted.sequence, recorded_us_, *item.principal, prepared.bytes);
  accepted.digest = ChainDigest(head_.digest, accepted.bytes);
  receipt.set_entry_id(prepared.entry.entry_id());
  receipt.set_sequence(accepted.sequence);
  time::SetMicros(recorded_us_, receipt.mutable_recorded_time());
  receipt.set_digest(accepted.digest);
  item.outcome = std::move(receipt);
  if (item.validate_only) return;

  head_.sequence = accepted.sequence;
  head_.recorded_us = recorded_us_;
  head_.digest = accepted.digest;
  decided_.insert_or_assign(prepared.entry.entry_id(), &item);
  for (Touched& t : touched) {
    Working& working = working_[*t.name];
    if (working.id == 0) working.id = head_.next_subject_id++;
    for (int index : t.fact_indexes) {
      working.pending.push_back({&prepared, index, accepted.sequence});
    }
    fold::Append(std::move(t.spans), &working.spans);
    working.current = std::move(t.state);
    working.sequence = accepted.sequence;
  }
  if (prepared.touches_settings) {
    ChangeBook(*working_[std::string(fact::kSettingsName)].current);
  }
  for (int64_t happened : prepared.happened_us) {
    head_.max_happened_us = std::max(head_.max_happened_us, happened);
  }
  accepted_.push_back(std::move(accepted));
}

// New settings bind the facts decided after them. When they reach back before facts already
// folded, those are folded again, so that the order of arrival makes no difference.
void Group::ChangeBook(const v1::SubjectState& settings_state) {
  auto changed = std::make_shared<const depot::SettingsBook>(fold::BookOf(settings_state));
  if (depot::FirstDifference(*book_, *changed) <= head_.max_happened_us) refold_all_ = true;
  book_ = new_book_ = std::move(changed);
}

absl::Status Group::Write() {
  absl::Status status = WriteEntries();
  if (status.ok()) status = WriteFactSubjects();
  if (status.ok()) status = WriteStates();
  if (status.ok()) status = WriteSpans();
  if (status.ok()) status = WriteRefusals();
  if (!status.ok() || accepted_.empty()) return status;
  const Value row[] = {Value::Int(head_.sequence), Value::Int(head_.recorded_us),
                       Value::Blob(head_.digest), Value::Int(head_.next_subject_id),
                       Value::Int(head_.max_happened_us)};
  return writer_.Post(sql::kPutHead, std::size(row), row);
}

absl::Status Group::WriteEntries() {
  std::vector<Value> rows;
  rows.reserve(accepted_.size() * 6);
  for (const Accepted& a : accepted_) {
    rows.push_back(Value::Int(a.sequence));
    rows.push_back(Value::Int(recorded_us_));
    rows.push_back(Value::Int(a.prepared->key));
    rows.push_back(Value::Blob(a.digest));
    rows.push_back(Value::Blob(a.bytes));
    rows.push_back(a.receipt.empty() ? Value::Null() : Value::Blob(a.receipt));
  }
  return writer_.Post(sql::kAddEntry, 6, rows);
}

absl::Status Group::WriteFactSubjects() {
  std::vector<Value> rows;
  for (const Accepted& a : accepted_) {
    for (int i = 0; i < a.prepared->entry.facts_size(); ++i) {
      for (const std::string& name : a.prepared->subjects[i]) {
        rows.push_back(Value::Int(working_[name].id));
        rows.push_back(Value::Int(a.sequence));
        rows.push_back(Value::Int(i));
        rows.push_back(Value::Int(a.prepared->entry.facts(i).what_case()));
      }
    }
  }
  return writer_.Post(sql::kAddFactSubject, 4, rows);
}

absl::Status Group::WriteStates() {
  std::vector<StateChange> changes;
  for (const auto& [name, w] : working_) {
    if (w.current != w.committed) changes.push_back({w.id, w.sequence, w.current, w.committed});
  }
  // In the order of their rows, so that the pages of the file are visited in order.
  std::sort(changes.begin(), changes.end(),
            [](const StateChange& a, const StateChange& b) { return a.id < b.id; });
  return ledger::WriteStates(writer_, *book_, changes);
}

absl::Status Group::WriteSpans() {
  std::vector<std::pair<int64_t, const fold::SpanChanges*>> changes;
  for (const auto& [name, w] : working_) {
    if (!w.spans.empty()) changes.emplace_back(w.id, &w.spans);
  }
  std::sort(changes.begin(), changes.end());
  return WriteSpanChanges(writer_, changes);
}

absl::Status Group::WriteRefusals() {
  std::vector<std::string> digests;
  digests.reserve(refused_.size());
  std::vector<Value> rows;
  for (const Refused& r : refused_) {
    digests.push_back(Sha256(r.prepared->bytes));
    rows.push_back(Value::Text(r.prepared->entry.entry_id()));
    rows.push_back(Value::Int(r.prepared->key));
    rows.push_back(Value::Blob(digests.back()));
    rows.push_back(Value::Int(recorded_us_));
    rows.push_back(Value::Blob(r.remembered));
  }
  return writer_.Post(sql::kAddRefusal, 5, rows);
}

std::vector<std::pair<std::string, Known>> Group::TakeChangedStates() {
  std::vector<std::pair<std::string, Known>> out;
  for (auto& [name, w] : working_) {
    // States that were only read are as good to have in memory as those that were written.
    if (w.current != nullptr) out.emplace_back(name, Known{w.id, std::move(w.current)});
  }
  return out;
}

}  // namespace ferrule::ledger
