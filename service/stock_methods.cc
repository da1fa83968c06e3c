#include "service/stock_methods.h"

#include "absl/strings/str_cat.h"
#include "core/stores/goods.h"
#include "core/stores/places.h"
#include "core/stores/reorder.h"
#include "core/stores/stocktake.h"
#include "service/computed.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.StockService/", method); }

absl::StatusOr<v1::GetCountResponse> GetCount(ledger::Ledger& ledger,
                                              const v1::GetCountRequest& request, int64_t now_us) {
  const auto count = FindSubject(ledger, {request.name(), fact::SubjectKind::kCount, nullptr});
  if (!count.ok()) return count.status();
  return stores::GetCount(ledger, request, now_us);
}

}  // namespace

std::vector<Method> StockMethods(ledger::Ledger* ledger) {
  std::vector<Method> methods;
  methods.push_back(List(ledger, Path("ListStock"), kDefaultPageSize, &stores::ListStock));
  methods.push_back(Report(ledger, Path("ReportPicking"), &stores::ReportPicking));
  methods.push_back(Report(ledger, Path("ReportReorder"), &stores::ReportReorder));
  methods.push_back(List(ledger, Path("ListTransfers"), kDefaultPageSize, &stores::ListTransfers));
  methods.push_back(Report(ledger, Path("GetPlace"), &stores::GetPlace));
  methods.push_back(Report(ledger, Path("GetCount"), &GetCount));
  methods.push_back(List(ledger, Path("ListCounts"), kDefaultPageSize, &stores::ListCounts));
  return methods;
}

}  // namespace ferrule::service
