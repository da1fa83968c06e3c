// How a method is written: a function from request to answer, and where it runs.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <type_traits>
#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "service/call.h"

namespace ferrule::service {

// Where a unary method runs.
enum class RunsOn {
  kLane,  // at once: look-ups in memory or by key
  kPool,  // on a worker: everything that reads many rows or folds
};

// A method that computes its answer. Both messages live on the call's arena.
//   absl::Status handler(CallContext&, const Request&, Response*)
// `runs_on` gives the place for one request.
template <class Request, class Response, class Handler, class Chooser>
Method Unary(std::string path, Chooser runs_on, Handler handler) {
  Method method;
  method.path = std::move(path);
  method.unary = [runs_on, handler](UnaryCall& call) {
    auto* request = google::protobuf::Arena::CreateMessage<Request>(call.arena());
    if (absl::Status parsed = call.Parse(request); !parsed.ok())
      return call.Answer(parsed, nullptr);
    auto* response = google::protobuf::Arena::CreateMessage<Response>(call.arena());
    const auto run = [&call, &handler, request, response]() -> absl::Status {
      if (absl::Status may = call.Admit(request); !may.ok()) return may;
      absl::Status done = handler(call.context(), *request, response);
      if (done.ok()) call.Screen(*request, response);
      return done;
    };
    if (runs_on(*request) == RunsOn::kLane) return call.Answer(run(), response);
    call.RunOnPool([&call, run, response] { call.Prepare(run(), response); });
  };
  return method;
}

// The same, always in one place.
template <class Request, class Response, class Handler>
Method Unary(std::string path, RunsOn place, Handler handler) {
  return Unary<Request, Response>(
      std::move(path), [place](const Request&) { return place; }, std::move(handler));
}

// Answers a call whose work goes on elsewhere. Copied freely, called once, from any thread; what
// it is given is encoded, and a status put into words, on the lane's thread.
template <class Response>
class Reply {
 public:
  explicit Reply(UnaryCall* call) : call_(call) {}

  void operator()(absl::StatusOr<Response> result) const {
    if (result.ok()) return call_->Prepare(absl::OkStatus(), &*result);
    call_->Prepare(std::move(result).status(), nullptr);
  }
  // The same with an answer that is made on the lane's thread.
  void Later(absl::AnyInvocable<absl::StatusOr<Response>()> make) const {
    call_->Post([call = call_, run = std::move(make)]() mutable {
      const absl::StatusOr<Response> result = run();
      call->Answer(result.status(), result.ok() ? &*result : nullptr);
    });
  }

 private:
  UnaryCall* call_;
};

// A method that hands its request on and is answered from elsewhere.
//   absl::Status handler(CallContext&, Request&&, Reply<Response>)
// A status other than OK is the answer, and then the reply must not be used.
template <class Request, class Response, class Handler>
Method AsyncUnary(std::string path, Handler handler) {
  Method method;
  method.path = std::move(path);
  method.unary = [handler](UnaryCall& call) {
    Request request;  // not on the arena: its parts are moved on
    if (absl::Status parsed = call.Parse(&request); !parsed.ok()) {
      return call.Answer(parsed, nullptr);
    }
    if (absl::Status may = call.Admit(&request); !may.ok()) return call.Answer(may, nullptr);
    call.WorkElsewhere();
    const absl::Status status = handler(call.context(), std::move(request), Reply<Response>(&call));
    if (!status.ok()) call.Prepare(status, nullptr);
  };
  return method;
}

// A method that streams.
//   absl::StatusOr<std::unique_ptr<Stream>> open(StreamCall&, const Request&)
template <class Request, class Opener>
Method ServerStreaming(std::string path, Opener open) {
  Method method;
  method.path = std::move(path);
  method.stream = [open](StreamCall& call) -> absl::StatusOr<std::unique_ptr<Stream>> {
    Request request;
    if (absl::Status parsed = call.Parse(&request); !parsed.ok()) return parsed;
    if (absl::Status may = call.Admit(&request); !may.ok()) return may;
    return open(call, request);
  };
  return method;
}

// A method that answers each message of a caller with one, on the lane: look-ups in memory.
//   void handler(const Request&, Response*)
template <class Request, class Response, class Handler>
Method Exchange(std::string path, Handler handler) {
  Method method;
  method.path = std::move(path);
  method.exchange = [handler](Call& call) -> absl::StatusOr<grpc::ByteBuffer> {
    Request request;
    if (absl::Status parsed = call.Parse(&request); !parsed.ok()) return parsed;
    Response response;
    handler(request, &response);
    return Encode(response);
  };
  return method;
}

}  // namespace ferrule::service
