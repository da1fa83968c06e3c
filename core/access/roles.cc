#include "core/access/roles.h"

#include <algorithm>
#include <array>

namespace ferrule::access {
namespace {

using enum v1::Right;

struct Row {
  std::string_view id;
  std::vector<v1::Right> rights;
};

// The trade's usual division of work; common practice, no source. Nobody but compliance and
// whoever brings the device to the home sees who the patient is, and whoever keeps the tokens
// records nothing.
const std::array<Row, 10>& Rows() {
  static const std::array<Row, 10> rows = {{
      {"technician",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_RECORD_CUSTODY, RIGHT_RECORD_BENCH,
        RIGHT_RECORD_STORES, RIGHT_RECORD_SAFETY, RIGHT_BREAK_GLASS}},
      {"rep",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_PATIENTS, RIGHT_RECORD_CUSTODY,
        RIGHT_RECORD_ORDERS, RIGHT_RECORD_HOME, RIGHT_RECORD_STORES, RIGHT_RECORD_SAFETY}},
      {"dispatcher",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_PLANS, RIGHT_READ_PATIENTS,
        RIGHT_RECORD_CUSTODY, RIGHT_RECORD_ORDERS, RIGHT_RECORD_HOME, RIGHT_RECORD_STORES,
        RIGHT_OVERRIDE}},
      {"intake",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_PATIENTS, RIGHT_READ_MESSAGES,
        RIGHT_RECORD_ORDERS, RIGHT_SEND_MESSAGES, RIGHT_KEEP_PATIENTS}},
      {"biller",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_COVER, RIGHT_READ_PATIENTS,
        RIGHT_RECORD_COVER}},
      {"manager",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_COVER, RIGHT_READ_PLANS, RIGHT_READ_TRACES,
        RIGHT_RECORD_CUSTODY, RIGHT_RECORD_BENCH, RIGHT_RECORD_ORDERS, RIGHT_RECORD_HOME,
        RIGHT_RECORD_STORES, RIGHT_RECORD_SAFETY, RIGHT_RECORD_FLEET, RIGHT_RECORD_CORRECTIONS,
        RIGHT_OVERRIDE, RIGHT_BREAK_GLASS}},
      {"compliance",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_COVER, RIGHT_READ_TRACES,
        RIGHT_READ_ENTRIES, RIGHT_READ_PATIENTS, RIGHT_READ_MESSAGES, RIGHT_READ_ACCESS,
        RIGHT_RECORD_SAFETY, RIGHT_RECORD_CORRECTIONS, RIGHT_KEEP_PATIENTS}},
      {"integrator",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_ENTRIES, RIGHT_READ_MESSAGES,
        RIGHT_SEND_MESSAGES, RIGHT_REPORT_FOR_OTHERS, RIGHT_LOOK_AROUND}},
      {"auditor",
       {RIGHT_READ_FLEET, RIGHT_READ_ORDERS, RIGHT_READ_COVER, RIGHT_READ_PLANS, RIGHT_READ_TRACES,
        RIGHT_READ_ENTRIES, RIGHT_READ_MESSAGES, RIGHT_READ_ACCESS}},
      {"administrator",
       {RIGHT_READ_FLEET, RIGHT_READ_ACCESS, RIGHT_RECORD_SETTINGS, RIGHT_KEEP_TOKENS,
        RIGHT_LOOK_AROUND}},
  }};
  return rows;
}

}  // namespace

const std::vector<std::string_view>& BuiltInRoles() {
  static const std::vector<std::string_view> ids = [] {
    std::vector<std::string_view> out;
    for (const Row& row : Rows()) out.push_back(row.id);
    return out;
  }();
  return ids;
}

std::set<v1::Right> RightsOfRole(const v1::AccessRules& rules, std::string_view role) {
  std::set<v1::Right> out;
  for (const v1::Role& own : rules.roles()) {
    if (own.id() != role) continue;
    for (const int right : own.rights()) out.insert(static_cast<v1::Right>(right));
    return out;
  }
  for (const Row& row : Rows()) {
    if (row.id == role) out.insert(row.rights.begin(), row.rights.end());
  }
  return out;
}

bool IsRole(const v1::AccessRules& rules, std::string_view role) {
  const auto& ids = BuiltInRoles();
  if (std::find(ids.begin(), ids.end(), role) != ids.end()) return true;
  return std::any_of(rules.roles().begin(), rules.roles().end(),
                     [&](const v1::Role& own) { return own.id() == role; });
}

}  // namespace ferrule::access
