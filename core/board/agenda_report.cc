#include "core/board/agenda_report.h"

#include <string>
#include <utility>
#include <vector>

#include "absl/strings/str_cat.h"
#include "core/board/queries.h"
#include "core/depot/known.h"
#include "core/fact/subject.h"
#include "core/order/due.h"
#include "core/papers/agenda.h"
#include "core/papers/sheets.h"
#include "core/time/civil.h"

namespace ferrule::board {
namespace {

// The branch that is meant: the one named, or the only one there is.
absl::StatusOr<const v1::Branch*> BranchMeant(const std::string& asked, const depot::Rules& rules) {
  const auto& branches = rules.settings().branches();
  if (asked.empty() && branches.size() == 1) return &branches.Get(0);
  if (asked.empty()) {
    std::string names;
    for (const v1::Branch& b : branches) absl::StrAppend(&names, names.empty() ? "" : ", ", b.id());
    return absl::InvalidArgumentError(branches.empty()
                                          ? "the settings have no branch; apply settings with one"
                                          : absl::StrCat("which branch? Name one of ", names));
  }
  if (const v1::Branch* branch = rules.FindBranch(asked)) return branch;
  return depot::KnowBranch(rules, asked);
}

absl::StatusOr<absl::CivilDay> DayMeant(bool given, const google::type::Date& date, int64_t at_us,
                                        absl::TimeZone zone) {
  if (!given) return time::LocalDay(at_us, zone);
  if (time::IsValid(date)) return time::ToDay(date);
  return absl::InvalidArgumentError(
      "date is no day of the calendar; give one, for instance 2026-11-25");
}

std::string NameOf(const v1::Branch& branch) {
  return branch.display_name().empty() ? branch.id() : branch.display_name();
}

// Calls `use` with the state of every order of the branch that is not over.
absl::Status EachOrder(ledger::Ledger& ledger, const std::string& branch, bool known_then,
                       int64_t at_us, absl::FunctionRef<void(const v1::SubjectState&)> use) {
  if (known_then) {
    return ledger.EachKnownAt(at_us, [&](const v1::SubjectState& state, const fold::Columns&) {
      if (state.has_order() && state.order().details().branch() == branch) use(state);
    });
  }
  bool readable = true;
  const store::Value parameters[] = {store::Value::Text(branch)};
  const absl::Status read = ledger.WithReader([&](store::Connection& connection) {
    return connection.Run(sql::kOrdersOfBranch, parameters, [&](const store::Row& row) {
      v1::SubjectState state;
      const std::string_view bytes = row.Bytes(0);
      if (!state.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
        readable = false;
        return;
      }
      use(state);
    });
  });
  if (!read.ok()) return read;
  if (!readable) return absl::DataLossError("a stored state cannot be read; run: ferruled rebuild");
  return absl::OkStatus();
}

// The unit that a paper is about: the one named, or the order's.
absl::StatusOr<ledger::StatePtr> UnitMeant(ledger::Ledger& ledger, const std::string& asked,
                                           const v1::OrderState& order) {
  const std::string& unit = asked.empty() ? order.unit() : asked;
  if (unit.empty()) return ledger::StatePtr();
  absl::StatusOr<ledger::StatePtr> state =
      ledger.Get(fact::SubjectName(fact::SubjectKind::kUnit, unit));
  if (!asked.empty() || !absl::IsNotFound(state.status())) return state;
  return ledger::StatePtr();  // handed over observed, and never received: the ticket has a line
}

absl::StatusOr<v1::GetPaperResponse> OrderPaperOf(ledger::Ledger& ledger,
                                                  const v1::GetPaperRequest& request,
                                                  int64_t now_us,
                                                  const std::string& in_place_of_patients) {
  absl::StatusOr<ledger::StatePtr> state = ledger.Get(request.name());
  if (!state.ok()) return state.status();
  v1::OrderState order = (*state)->order();
  if (!in_place_of_patients.empty() && !order.details().patient().empty()) {
    order.mutable_details()->set_patient(in_place_of_patients);
  }
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const depot::Rules& rules = book->At(now_us);
  const auto day =
      DayMeant(request.has_date(), request.date(), now_us, rules.ZoneOf(order.details().branch()));
  if (!day.ok()) return day.status();
  const auto unit = UnitMeant(ledger, request.unit(), order);
  if (!unit.ok()) return unit.status();
  const papers::OrderPaper paper{order, *unit == nullptr ? nullptr : &(*unit)->unit(), *day, rules};
  const papers::Page page =
      request.kind() == v1::PAPER_KIND_DELIVERY_TICKET ? papers::DeliveryTicket(paper)
      : request.kind() == v1::PAPER_KIND_SET_UP_SHEET  ? papers::SetUpSheet(paper)
                                                       : papers::PickupTicket(paper);
  v1::GetPaperResponse response;
  response.set_title(page.title());
  response.set_html(page.Html());
  if (request.kind() != v1::PAPER_KIND_PICKUP_TICKET) {
    for (std::string& missing : order::MissingToGoOut(order, rules)) {
      response.add_missing(std::move(missing));
    }
  }
  if (paper.unit == nullptr) response.add_missing("the unit: hold one, or name it");
  return response;
}

absl::StatusOr<v1::GetPaperResponse> ListPaper(ledger::Ledger& ledger,
                                               const v1::GetPaperRequest& request, int64_t now_us,
                                               const std::string& in_place_of_patients) {
  v1::GetAgendaRequest asked;
  asked.set_branch(request.branch());
  if (request.has_date()) *asked.mutable_date() = request.date();
  auto agenda = Agenda(ledger, asked, now_us);
  if (!agenda.ok()) return agenda.status();
  for (v1::AgendaItem& item : *agenda->mutable_items()) {
    if (!in_place_of_patients.empty() && !item.patient().empty()) {
      item.set_patient(in_place_of_patients);
    }
  }
  const std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  const v1::Branch* branch = book->At(now_us).FindBranch(agenda->branch());
  const std::string name = branch == nullptr ? agenda->branch() : NameOf(*branch);
  const papers::Page page = request.kind() == v1::PAPER_KIND_CALL_LIST
                                ? papers::CallList(*agenda, name)
                                : papers::Agenda(*agenda, name);
  v1::GetPaperResponse response;
  response.set_title(page.title());
  response.set_html(page.Html());
  return response;
}

}  // namespace

absl::StatusOr<v1::GetAgendaResponse> Agenda(ledger::Ledger& ledger,
                                             const v1::GetAgendaRequest& request, int64_t now_us) {
  const bool known_then = request.has_known_time();
  const int64_t at_us = known_then ? time::ToMicros(request.known_time()) : now_us;
  std::shared_ptr<const depot::SettingsBook> book = ledger.Book();
  if (known_then) {
    auto then = ledger.BookKnownAt(at_us);
    if (!then.ok()) return then.status();
    book = *std::move(then);
  }
  const depot::Rules& rules = book->At(at_us);
  const auto branch = BranchMeant(request.branch(), rules);
  if (!branch.ok()) return branch.status();
  const auto day =
      DayMeant(request.has_date(), request.date(), at_us, rules.ZoneOf((*branch)->id()));
  if (!day.ok()) return day.status();
  v1::GetAgendaResponse response;
  response.set_as_of_sequence(ledger.head().sequence);
  response.set_branch((*branch)->id());
  *response.mutable_date() = time::FromDay(*day);
  std::vector<v1::AgendaItem> items;
  const absl::Status read =
      EachOrder(ledger, (*branch)->id(), known_then, at_us, [&](const v1::SubjectState& state) {
        papers::OrderAgenda found = papers::AgendaOf(state, *day, *book, rules);
        for (v1::AgendaItem& item : found.items) items.push_back(std::move(item));
        if (!found.not_rung.empty()) response.add_not_rung(std::move(found.not_rung));
      });
  if (!read.ok()) return read;
  papers::Sort(&items);
  for (v1::AgendaItem& item : items) *response.add_items() = std::move(item);
  return response;
}

absl::StatusOr<v1::GetPaperResponse> Paper(ledger::Ledger& ledger,
                                           const v1::GetPaperRequest& request, int64_t now_us,
                                           const std::string& in_place_of_patients) {
  switch (request.kind()) {
    case v1::PAPER_KIND_DELIVERY_TICKET:
    case v1::PAPER_KIND_SET_UP_SHEET:
    case v1::PAPER_KIND_PICKUP_TICKET:
      return OrderPaperOf(ledger, request, now_us, in_place_of_patients);
    case v1::PAPER_KIND_CALL_LIST:
    case v1::PAPER_KIND_AGENDA:
      return ListPaper(ledger, request, now_us, in_place_of_patients);
    default:
      return absl::InvalidArgumentError(
          "kind says no paper; give for instance PAPER_KIND_SET_UP_SHEET");
  }
}

}  // namespace ferrule::board
