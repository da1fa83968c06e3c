#include "service/label_methods.h"

#include <memory>

#include "core/board/name_index.h"
#include "core/board/scan.h"
#include "ferrule/v1/label_service.pb.h"
#include "service/method.h"

namespace ferrule::service {

std::vector<Method> LabelMethods(ledger::Ledger* ledger) {
  auto index = std::make_shared<board::NameIndex>();
  std::vector<Method> methods;
  methods.push_back(Unary<v1::ResolveScanRequest, v1::ResolveScanResponse>(
      "/ferrule.v1.LabelService/ResolveScan", RunsOn::kPool,
      [ledger, index](CallContext& context, const v1::ResolveScanRequest& request,
                      v1::ResolveScanResponse* response) {
        absl::StatusOr<v1::ResolveScanResponse> answer =
            board::ResolveScan(*ledger, *index, request, context.now_us);
        if (!answer.ok()) return answer.status();
        *response = *std::move(answer);
        return absl::OkStatus();
      }));
  return methods;
}

}  // namespace ferrule::service
