#include "service/intake_methods.h"

#include <string>
#include <utility>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "core/exchange/status_out.h"
#include "core/fact/subject.h"
#include "core/intake/answer.h"
#include "core/time/civil.h"
#include "core/trace/records_due.h"
#include "ferrule/v1/intake_service.pb.h"
#include "service/errors.h"
#include "service/limits.h"
#include "service/method.h"
#include "service/page_token.h"
#include "service/requests.h"

namespace ferrule::service {
namespace {

using IntakePtr = std::shared_ptr<intake::Intake>;

constexpr size_t kMostImportBytes = 2 << 20;
constexpr size_t kDigestBytes = 32;

std::string Path(const char* method) { return absl::StrCat("/ferrule.v1.IntakeService/", method); }

// A unary method on a worker whose core call gives the whole answer.
template <class Request, class Response, class Handler>
Method OnPool(const char* name, Handler handler) {
  return Unary<Request, Response>(
      Path(name), RunsOn::kPool,
      [handler](CallContext& context, const Request& request, Response* response) -> absl::Status {
        absl::StatusOr<Response> answer = handler(context, request);
        if (!answer.ok()) return answer.status();
        *response = *std::move(answer);
        return absl::OkStatus();
      });
}

absl::Status CheckName(const std::string& name) {
  if (!intake::MessageId(name).empty()) return absl::OkStatus();
  return errors::FieldInvalid("name", absl::StrCat("is \"", name,
                                                   "\"; give the full name of a message, for "
                                                   "instance messages/m-4f2a"));
}

absl::Status Required(const char* field, const std::string& value) {
  if (!value.empty()) return absl::OkStatus();
  return errors::FieldInvalid(field, "is missing");
}

absl::StatusOr<v1::SubmitMessageResponse> Submit(intake::Intake& intake, const CallContext& context,
                                                 const v1::SubmitMessageRequest& request) {
  if (v1::MessageKind_Name(request.kind()).empty() || request.kind() == 0) {
    return errors::FieldInvalid("kind", "is missing: say how the message is written");
  }
  if (request.content().empty()) return errors::FieldInvalid("content", "is empty");
  if (request.content().size() > intake::kMostMessageBytes) {
    return errors::FieldInvalid(
        "content", absl::StrCat("has ", request.content().size(), " bytes: give at most ",
                                intake::kMostMessageBytes));
  }
  auto response = intake.Submit(request, context.principal);
  if (response.ok() && request.kind() == v1::MESSAGE_KIND_HL7_V2) {
    response->set_acknowledgement(
        intake::Acknowledge(intake, request.content(), response->message(),
                            exchange::Hl7Answer::Mode::kOriginal, context.now_us));
  }
  return response;
}

absl::StatusOr<v1::GetMessageResponse> GetMessage(intake::Intake& intake,
                                                  const v1::GetMessageRequest& request) {
  if (absl::Status named = CheckName(request.name()); !named.ok()) return named;
  const std::string_view id = intake::MessageId(request.name());
  auto message = intake.messages().Find(id);
  if (!message.ok()) return message.status();
  if (!message->has_value()) {
    return errors::WithReason(
        absl::NotFoundError(absl::StrCat("there is no message ", request.name())),
        "MESSAGE_UNKNOWN", {{"name", request.name()}});
  }
  v1::GetMessageResponse response;
  *response.mutable_message() = **std::move(message);
  if (!request.with_content()) return response;
  auto content = intake.messages().Content(id);
  if (!content.ok()) return content.status();
  if (content->has_value()) response.mutable_message()->set_content(**std::move(content));
  return response;
}

// Tokens hold the last arrival.
absl::StatusOr<int64_t> ArrivalOf(const std::string& token,
                                  const google::protobuf::MessageLite& arguments) {
  auto key = ReadPageToken(token, arguments);
  if (!key.ok()) return key.status();
  int64_t arrival = 0;
  if (!key->empty() && !absl::SimpleAtoi(*key, &arrival)) return errors::PageTokenMismatch();
  return arrival;
}

absl::StatusOr<v1::ListMessagesResponse> List(intake::Intake& intake,
                                              const v1::ListMessagesRequest& request) {
  v1::ListMessagesRequest arguments = request;
  arguments.clear_page_token();
  arguments.clear_page_size();
  auto after = ArrivalOf(request.page_token(), arguments);
  if (!after.ok()) return after.status();
  auto size = PageSize(request.page_size(), kDefaultPageSize);
  if (!size.ok()) return size.status();
  const v1::MessageState state = request.state() == 0 ? v1::MESSAGE_STATE_QUEUED : request.state();
  int64_t next = 0;
  auto page = intake.messages().Page(state, request.sender(), *after, *size, &next);
  if (!page.ok()) return page.status();
  v1::ListMessagesResponse response;
  for (v1::IntakeMessage& message : *page) *response.add_messages() = std::move(message);
  if (next != 0) response.set_next_page_token(MakePageToken(absl::StrCat(next), arguments));
  return response;
}

absl::StatusOr<v1::CureMessageResponse> Cure(intake::Intake& intake, const CallContext& context,
                                             const v1::CureMessageRequest& request) {
  if (absl::Status named = CheckName(request.name()); !named.ok()) return named;
  if (absl::Status who = Required("actor", request.actor()); !who.ok()) return who;
  const bool chosen = request.replay() || !request.same_as_order().empty() || request.new_order() ||
                      request.dismiss();
  if (!chosen) {
    return errors::FieldInvalid("cure",
                                "is missing: give replay, same_as_order, new_order or dismiss");
  }
  if (request.dismiss() && request.because().empty()) {
    return errors::FieldInvalid("because", "is missing: say why the message is set aside");
  }
  if (!request.same_as_order().empty() && !fact::IsValidId(request.same_as_order())) {
    return errors::FieldInvalid("same_as_order", "is no id of an order");
  }
  return intake.Cure(request, context.principal);
}

absl::StatusOr<v1::ReplayMessagesResponse> Replay(intake::Intake& intake,
                                                  const CallContext& context,
                                                  const v1::ReplayMessagesRequest& request) {
  v1::ReplayMessagesRequest arguments = request;
  arguments.clear_page_token();
  auto after = ArrivalOf(request.page_token(), arguments);
  if (!after.ok()) return after.status();
  int64_t next = 0;
  auto response = intake.Replay(request, *after, &next, context.principal);
  if (response.ok() && next != 0) {
    response->set_next_page_token(MakePageToken(absl::StrCat(next), arguments));
  }
  return response;
}

absl::StatusOr<v1::EraseMessageResponse> Erase(intake::Intake& intake,
                                               const v1::EraseMessageRequest& request) {
  if (absl::Status named = CheckName(request.name()); !named.ok()) return named;
  if (absl::Status who = Required("actor", request.actor()); !who.ok()) return who;
  if (absl::Status why = Required("because", request.because()); !why.ok()) return why;
  ledger::Ledger& ledger = intake.ledger();
  if (absl::Status free = trace::NotHeld(ledger, v1::RECORD_KIND_MESSAGE, request.name(),
                                         ledger.clock().NowMicros());
      !free.ok()) {
    return free;
  }
  auto message = intake.Erase(request);
  if (!message.ok()) return message.status();
  v1::EraseMessageResponse response;
  *response.mutable_message() = *std::move(message);
  return response;
}

absl::StatusOr<v1::ImportRowsResponse> Import(intake::Intake& intake, const CallContext& context,
                                              const v1::ImportRowsRequest& request) {
  if (request.kind() == 0 || v1::ImportKind_Name(request.kind()).empty()) {
    return errors::FieldInvalid("kind", "is missing: say what the rows are");
  }
  if (request.file_sha256().size() != kDigestBytes) {
    return errors::FieldInvalid("file_sha256", "is not the 32 bytes of a SHA-256");
  }
  if (request.rows().size() > kMostImportBytes) {
    return errors::FieldInvalid("rows", absl::StrCat("have ", request.rows().size(),
                                                     " bytes: give at most ", kMostImportBytes));
  }
  if (request.first_line() < 1 || request.offset_bytes() < 0) {
    return errors::FieldInvalid("first_line", "is not a line of the file");
  }
  if (absl::Status who = Required("actor", request.actor()); !who.ok()) return who;
  return intake.Import(request, context.principal);
}

absl::StatusOr<v1::ExportOrderResponse> Export(intake::Intake& intake, const CallContext& context,
                                               const v1::ExportOrderRequest& request) {
  if (request.format() == 0 || v1::ExportFormat_Name(request.format()).empty()) {
    return errors::FieldInvalid("format", "is missing: say how the status is to be written");
  }
  if (absl::Status who = Required("referrer", request.referrer()); !who.ok()) return who;
  const google::protobuf::Timestamp* known =
      request.has_known_time() ? &request.known_time() : nullptr;
  auto state = FindSubject(intake.ledger(), {request.name(), fact::SubjectKind::kOrder, known});
  if (!state.ok()) return state.status();
  (void)ShowsPatients(context, Path("ExportOrder"), request);  // the table asks for that right
  return intake::ExportOrder(intake, (*state)->order(), request, context.now_us);
}

}  // namespace

std::vector<Method> IntakeMethods(std::shared_ptr<intake::Intake> intake) {
  return {
      OnPool<v1::SubmitMessageRequest, v1::SubmitMessageResponse>(
          "SubmitMessage",
          [intake](const CallContext& c, const auto& r) { return Submit(*intake, c, r); }),
      OnPool<v1::GetMessageRequest, v1::GetMessageResponse>(
          "GetMessage",
          [intake](const CallContext&, const auto& r) { return GetMessage(*intake, r); }),
      OnPool<v1::ListMessagesRequest, v1::ListMessagesResponse>(
          "ListMessages", [intake](const CallContext&, const auto& r) { return List(*intake, r); }),
      OnPool<v1::CureMessageRequest, v1::CureMessageResponse>(
          "CureMessage",
          [intake](const CallContext& c, const auto& r) { return Cure(*intake, c, r); }),
      OnPool<v1::ReplayMessagesRequest, v1::ReplayMessagesResponse>(
          "ReplayMessages",
          [intake](const CallContext& c, const auto& r) { return Replay(*intake, c, r); }),
      OnPool<v1::EraseMessageRequest, v1::EraseMessageResponse>(
          "EraseMessage",
          [intake](const CallContext&, const auto& r) { return Erase(*intake, r); }),
      OnPool<v1::ImportRowsRequest, v1::ImportRowsResponse>(
          "ImportRows",
          [intake](const CallContext& c, const auto& r) { return Import(*intake, c, r); }),
      OnPool<v1::GetImportRequest, v1::GetImportResponse>(
          "GetImport",
          [intake](const CallContext&, const auto& r) { return intake->ImportState(r); }),
      OnPool<v1::ExportOrderRequest, v1::ExportOrderResponse>(
          "ExportOrder",
          [intake](const CallContext& c, const auto& r) { return Export(*intake, c, r); }),
  };
}

}  // namespace ferrule::service
