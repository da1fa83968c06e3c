#include "cli/look_up.h"

#include "absl/strings/str_cat.h"

namespace ferrule::cli {
namespace {

absl::StatusOr<v1::SubjectState> LookUp(Session& session, const std::string& name) {
  v1::GetSubjectRequest request;
  request.set_name(name);
  v1::GetSubjectResponse response;
  const absl::Status asked =
      session.Ask(&v1::DepotService::StubInterface::GetSubject, request, &response);
  if (!asked.ok()) return asked;
  return response.state();
}

}  // namespace

absl::StatusOr<v1::UnitState> LookUpUnit(Session& session, const std::string& unit) {
  const auto state = LookUp(session, "units/" + unit);
  if (!state.ok()) return state.status();
  return state->unit();
}

absl::StatusOr<v1::OrderState> LookUpOrder(Session& session, const std::string& order) {
  const auto state = LookUp(session, "orders/" + order);
  if (!state.ok()) return state.status();
  return state->order();
}

absl::StatusOr<std::string> FullName(Session& session, const std::string& typed) {
  if (typed.find('/') != std::string::npos) return typed;
  // What belongs to another branch and what does not exist are answered alike, by a refusal.
  absl::Status refused;
  for (const char* kind : {"units/", "orders/", "parts/", "lots/", "testers/", "items/",
                           "transfers/", "counts/", "recalls/", "complaints/"}) {
    const auto state = LookUp(session, kind + typed);
    if (state.ok()) return kind + typed;
    if (state.status().code() == absl::StatusCode::kPermissionDenied) {
      refused.Update(state.status());
    } else if (state.status().code() != absl::StatusCode::kNotFound) {
      return state.status();
    }
  }
  if (!refused.ok()) return refused;
  return absl::NotFoundError(absl::StrCat(
      "no unit, order, part or lot is called '", typed,
      "'; compare the tag, or list what there is with ferrule units or ferrule orders"));
}

}  // namespace ferrule::cli
