#include "core/depot/settings_book.h"

#include <algorithm>
#include <utility>

#include "absl/container/flat_hash_map.h"
#include "core/time/civil.h"

namespace ferrule::depot {
namespace {

absl::string_view Key(std::string_view id) { return absl::string_view(id.data(), id.size()); }

// Keys point into the settings that the values point into.
template <typename T>
using Table = absl::flat_hash_map<absl::string_view, const T*>;

template <typename T, typename List>
Table<T> TableOf(const List& list) {
  Table<T> table;
  table.reserve(static_cast<size_t>(list.size()));
  for (const T& item : list) table.try_emplace(Key(item.id()), &item);
  return table;
}

template <typename T>
const T* Find(const Table<T>& table, std::string_view id) {
  const auto it = table.find(Key(id));
  return it == table.end() ? nullptr : it->second;
}

}  // namespace

struct Rules::Index {
  explicit Index(v1::Settings given) : settings(std::move(given)) {
    branches = TableOf<v1::Branch>(settings.branches());
    models = TableOf<v1::Model>(settings.models());
    classes = TableOf<v1::DeviceClass>(settings.device_classes());
    products = TableOf<v1::CleaningProduct>(settings.cleaning_products());
    checklists = TableOf<v1::Checklist>(settings.checklists());
    plans = TableOf<v1::ServicePlan>(settings.service_plans());
    payers = TableOf<v1::PayerTerms>(settings.payer_terms());
    procedures = TableOf<v1::Procedure>(settings.procedures());
    for (const v1::Branch& branch : settings.branches()) {
      const absl::StatusOr<absl::TimeZone> zone = time::Zone(branch.time_zone());
      zones.try_emplace(Key(branch.id()), zone.ok() ? *zone : absl::UTCTimeZone());
      for (const v1::Place& place : branch.places()) {
        places.try_emplace(Key(place.id()), &place);
        branch_of_place.try_emplace(Key(place.id()), &branch);
      }
    }
  }

  const v1::Settings settings;
  Table<v1::Branch> branches;
  Table<v1::Place> places;
  Table<v1::Branch> branch_of_place;
  Table<v1::Model> models;
  Table<v1::DeviceClass> classes;
  Table<v1::CleaningProduct> products;
  Table<v1::Checklist> checklists;
  Table<v1::ServicePlan> plans;
  Table<v1::PayerTerms> payers;
  Table<v1::Procedure> procedures;
  absl::flat_hash_map<absl::string_view, absl::TimeZone> zones;
};

Rules::Rules(v1::Settings settings) : index_(std::make_unique<const Index>(std::move(settings))) {}
Rules::~Rules() = default;

const v1::Settings& Rules::settings() const { return index_->settings; }

const v1::Branch* Rules::FindBranch(std::string_view id) const {
  return Find(index_->branches, id);
}
const v1::Place* Rules::FindPlace(std::string_view id) const { return Find(index_->places, id); }
const v1::Branch* Rules::BranchOfPlace(std::string_view place_id) const {
  return Find(index_->branch_of_place, place_id);
}
const v1::Model* Rules::FindModel(std::string_view id) const { return Find(index_->models, id); }
const v1::DeviceClass* Rules::FindDeviceClass(std::string_view id) const {
  return Find(index_->classes, id);
}
const v1::CleaningProduct* Rules::FindProduct(std::string_view id) const {
  return Find(index_->products, id);
}
const v1::Checklist* Rules::FindChecklist(std::string_view id) const {
  return Find(index_->checklists, id);
}
const v1::ServicePlan* Rules::FindServicePlan(std::string_view id) const {
  return Find(index_->plans, id);
}
const v1::PayerTerms* Rules::FindPayer(std::string_view id) const {
  return Find(index_->payers, id);
}
const v1::Procedure* Rules::FindProcedure(std::string_view id) const {
  return Find(index_->procedures, id);
}

absl::TimeZone Rules::ZoneOf(std::string_view branch_id) const {
  const auto it = index_->zones.find(Key(branch_id));
  return it == index_->zones.end() ? absl::UTCTimeZone() : it->second;
}

SettingsBook::SettingsBook(const v1::SettingsState& state) {
  versions_.reserve(static_cast<size_t>(state.versions_size()));
  for (const v1::SettingsVersion& version : state.versions()) {
    versions_.push_back(
        {time::ToMicros(version.from_time()), std::make_shared<const Rules>(version.settings())});
  }
  // Of two versions from the same instant the one put later rules.
  std::stable_sort(versions_.begin(), versions_.end(),
                   [](const Version& a, const Version& b) { return a.from_us < b.from_us; });
}

const Rules& SettingsBook::At(int64_t us) const {
  static const Rules& empty = *new Rules(v1::Settings());
  const auto after =
      std::upper_bound(versions_.begin(), versions_.end(), us,
                       [](int64_t at, const Version& version) { return at < version.from_us; });
  return after == versions_.begin() ? empty : *std::prev(after)->rules;
}

void SettingsBook::ForEach(absl::FunctionRef<void(const Rules&)> visit) const {
  for (const Version& version : versions_) visit(*version.rules);
}

bool IsCleanPlace(v1::PlaceKind kind) {
  return kind == v1::PLACE_KIND_CLEAN_SHELF || kind == v1::PLACE_KIND_VAN_CLEAN ||
         kind == v1::PLACE_KIND_CLOSET;
}

}  // namespace ferrule::depot
