#include "service/ledger_methods.h"

#include <memory>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/fact/subject.h"
#include "core/store/migrate.h"
#include "core/time/civil.h"
#include "ferrule/v1/ledger_service.pb.h"
#include "service/errors.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/status.h"
#include "service/version.h"
#include "service/watch.h"
#include "service/words.h"

namespace ferrule::service {
namespace {

constexpr char kService[] = "/ferrule.v1.LedgerService/";

Method Record(ledger::Ledger* ledger) {
  return AsyncUnary<v1::RecordRequest, v1::RecordResponse>(
      absl::StrCat(kService, "Record"),
      [ledger](CallContext& context, v1::RecordRequest&& request,
               Reply<v1::RecordResponse> reply) -> absl::Status {
        if (!request.has_entry()) {
          return errors::FieldInvalid("entry", "is missing; give the entry to record");
        }
        ledger->Record(std::move(*request.mutable_entry()), context.principal,
                       request.validate_only(), [reply](absl::StatusOr<v1::Receipt> receipt) {
                         if (!receipt.ok()) return reply(std::move(receipt).status());
                         v1::RecordResponse response;
                         *response.mutable_receipt() = *std::move(receipt);
                         reply(std::move(response));
                       });
        return absl::OkStatus();
      });
}

v1::RecordBatchResponse BatchResponse(ledger::Ledger& ledger,
                                      std::vector<absl::StatusOr<v1::Receipt>> receipts) {
  v1::RecordBatchResponse response;
  for (absl::StatusOr<v1::Receipt>& receipt : receipts) {
    v1::RecordResult* result = response.add_results();
    if (receipt.ok()) {
      *result->mutable_receipt() = *std::move(receipt);
    } else {
      *result->mutable_failure() = ToFailure(
          receipt.status(), [&ledger](v1::Finding* finding) { PutIntoWords(ledger, finding); });
    }
  }
  return response;
}

Method RecordBatch(ledger::Ledger* ledger) {
  return AsyncUnary<v1::RecordBatchRequest, v1::RecordBatchResponse>(
      absl::StrCat(kService, "RecordBatch"),
      [ledger](CallContext& context, v1::RecordBatchRequest&& request,
               Reply<v1::RecordBatchResponse> reply) -> absl::Status {
        const int count = request.entries_size();
        if (count == 0 || count > kMaxBatchEntries) {
          return errors::FieldInvalid(
              "entries", absl::StrCat("holds ", count, "; give 1 to ", kMaxBatchEntries));
        }
        std::vector<v1::Entry> entries;
        entries.reserve(static_cast<size_t>(count));
        for (v1::Entry& entry : *request.mutable_entries()) entries.push_back(std::move(entry));
        ledger->RecordBatch(std::move(entries), context.principal,
                            [ledger, reply](std::vector<absl::StatusOr<v1::Receipt>> receipts) {
                              reply.Later([ledger, got = std::move(receipts)]() mutable {
                                return BatchResponse(*ledger, std::move(got));
                              });
                            });
        return absl::OkStatus();
      });
}

absl::Status ListEntriesPage(ledger::Ledger& ledger, const v1::ListEntriesRequest& request,
                             v1::ListEntriesResponse* response) {
  if (request.after_sequence() < 0) {
    return errors::FieldInvalid("after_sequence",
                                "is negative; give the last position seen, or 0 for the beginning");
  }
  const absl::StatusOr<int> size = PageSize(request.page_size(), kDefaultEntriesPageSize);
  if (!size.ok()) return size.status();
  if (!request.subject().empty()) {
    const auto subject = fact::ParseSubjectName(request.subject());
    if (!subject.ok()) {
      return errors::FieldInvalid("subject", std::string(subject.status().message()));
    }
  }
  response->set_head_sequence(ledger.head().sequence);
  size_t bytes = 0;
  bool more = false;
  bool readable = true;
  const absl::Status status = ledger.Read(
      request.after_sequence(), request.subject(), [&](const ledger::Recorded& recorded) {
        more = response->entries_size() == *size ||
               (bytes > 0 && bytes + recorded.bytes.size() > kMaxPageBytes);
        if (more) return false;
        bytes += recorded.bytes.size();
        readable = response->add_entries()->ParseFromArray(recorded.bytes.data(),
                                                           static_cast<int>(recorded.bytes.size()));
        return readable;
      });
  if (!status.ok()) return status;
  if (!readable) {
    return absl::DataLossError(absl::StrCat("a stored entry cannot be read; run: ferruled verify"));
  }
  if (more) {
    response->set_next_after_sequence(response->entries(response->entries_size() - 1).sequence());
  }
  return absl::OkStatus();
}

Method ListEntries(ledger::Ledger* ledger) {
  return Unary<v1::ListEntriesRequest, v1::ListEntriesResponse>(
      absl::StrCat(kService, "ListEntries"), RunsOn::kPool,
      [ledger](CallContext&, const v1::ListEntriesRequest& request,
               v1::ListEntriesResponse* response) {
        return ListEntriesPage(*ledger, request, response);
      });
}

Method WatchEntries(ledger::Ledger* ledger, absl::Duration progress) {
  auto hub = std::make_shared<WatchHub>(ledger, progress);
  return ServerStreaming<v1::WatchEntriesRequest>(
      absl::StrCat(kService, "WatchEntries"),
      [hub](StreamCall& call, const v1::WatchEntriesRequest& request) {
        return hub->Open(call, request);
      });
}

Method GetServerInfo(ledger::Ledger* ledger) {
  return Unary<v1::GetServerInfoRequest, v1::GetServerInfoResponse>(
      absl::StrCat(kService, "GetServerInfo"), RunsOn::kLane,
      [ledger](CallContext& context, const v1::GetServerInfoRequest&,
               v1::GetServerInfoResponse* response) {
        const ledger::Head head = ledger->head();
        response->set_version(kVersion);
        response->set_schema_version(store::ProgramSchemaVersion());
        response->set_engine(ledger->engine());
        response->set_head_sequence(head.sequence);
        response->set_head_digest(head.digest);
        time::SetMicros(context.now_us, response->mutable_now_time());
        response->set_label(ledger->label());
        return absl::OkStatus();
      });
}

}  // namespace

std::vector<Method> LedgerMethods(ledger::Ledger* ledger, absl::Duration progress) {
  return {Record(ledger), RecordBatch(ledger), ListEntries(ledger), WatchEntries(ledger, progress),
          GetServerInfo(ledger)};
}

}  // namespace ferrule::service
