"""The API reference, written from the comments of the .proto files.

    reference.py FILE       writes it to FILE
"""

import os
import subprocess
import sys
import tempfile

from google.protobuf import descriptor_pb2

SOURCE = os.environ.get("FERRULE_SOURCE_DIR",
                        os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
KINDS = {1: "double", 3: "int64", 5: "int32", 8: "bool", 9: "string", 12: "bytes"}
PACKAGE = ".ferrule.v1."


def files():
    folder = os.path.join(SOURCE, "proto/ferrule/v1")
    names = sorted(n for n in os.listdir(folder) if n.endswith(".proto"))
    with tempfile.NamedTemporaryFile() as out:
        subprocess.run(["protoc", "-I", os.path.join(SOURCE, "proto"), "--include_source_info",
                        "--descriptor_set_out=" + out.name,
                        *[os.path.join(folder, n) for n in names]], check=True)
        return descriptor_pb2.FileDescriptorSet.FromString(out.read()).file


def comments(file):
    return {tuple(l.path): " ".join(l.leading_comments.split()) for l in
            file.source_code_info.location if l.leading_comments}


def cell(text):
    return text.replace("|", "\\|").replace("<", "&lt;")


def link(type_name):
    name = type_name[len(PACKAGE):] if type_name.startswith(PACKAGE) else type_name.lstrip(".")
    return f"[{name}](#{name.lower()})" if type_name.startswith(PACKAGE) else f"`{name}`"


def type_of(field):
    text = link(field.type_name) if field.type_name else f"`{KINDS[field.type]}`"
    return "repeated " + text if field.label == 3 else text


def page():
    services, messages, enums = [], [], []
    for file in files():
        said = comments(file)
        for i, service in enumerate(file.service):
            services.append((service, said.get((6, i), ""),
                             [said.get((6, i, 2, k), "") for k in range(len(service.method))]))
        for i, message in enumerate(file.message_type):
            messages.append((message, said.get((4, i), ""),
                             [said.get((4, i, 2, k), "") for k in range(len(message.field))]))
        for i, enum in enumerate(file.enum_type):
            enums.append((enum, said.get((5, i), ""),
                          [said.get((5, i, 2, k), "") for k in range(len(enum.value))]))
    out = ["# API reference", "",
           "Written from the comments of `proto/ferrule/v1` by `proto/reference.py`; change the comments, "
           "not this page.", "", "## Services", ""]
    for service, about, methods in services:
        out += [f"### {service.name}", "", about, "", "| method | request | response | |",
                "|---|---|---|---|"]
        for method, text in zip(service.method, methods):
            answer = link(method.output_type)
            answer = "stream of " + answer if method.server_streaming else answer
            out.append(f"| `{method.name}` | {link(method.input_type)} | {answer} | {cell(text)} |")
        out.append("")
    out += ["## Messages", ""]
    for message, about, fields in sorted(messages, key=lambda m: m[0].name):
        out += [f"### {message.name}", "", about, ""]
        if message.field:
            out += ["| field | number | type | |", "|---|---|---|---|"]
            for field, text in zip(message.field, fields):
                out.append(f"| `{field.name}` | {field.number} | {type_of(field)} | {cell(text)} |")
            out.append("")
    out += ["## Enums", ""]
    for enum, about, values in sorted(enums, key=lambda e: e[0].name):
        out += [f"### {enum.name}", "", about, "", "| value | number | |", "|---|---|---|"]
        for value, text in zip(enum.value, values):
            out.append(f"| `{value.name}` | {value.number} | {cell(text)} |")
        out.append("")
    return "\n".join(out)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: reference.py FILE")
    with open(sys.argv[1], "w", encoding="utf-8") as page_file:
        page_file.write(page())
