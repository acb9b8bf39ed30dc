"""A Sparkplug B edge node that is not ours: paho-mqtt and Google's protobuf for Python, the schema built from the field numbers of
the Sparkplug 3.0 specification, chapter 6. Does what it is told on its input, one JSON object a line.

  edge_node.py encode             prints each payload as hexadecimal digits
  edge_node.py PORT GROUP NODE BDSEQ [answer]
                                  connects with its last will and publishes; with 'answer' it is born again when it is asked to
  edge_node.py PORT GROUP NODE BDSEQ play RECORDING
                                  plays the rows of a recording at their times, each saw a device, and reports what changes; prints
                                  "playing from MS", the wall clock in milliseconds since 1970 that belongs to the first row, and
                                  at the end "played, latest row N ms late"
"""
import csv
import json
import sys
import threading
import time
from datetime import datetime

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory

F = descriptor_pb2.FieldDescriptorProto


def build():
    file = descriptor_pb2.FileDescriptorProto(name="payload.proto", package="test", syntax="proto2")

    def add(parent, name, *fields):
        message = parent.add(name=name)
        for number, field, kind, *rest in fields:
            made = message.field.add(name=field, number=number, label=F.LABEL_REPEATED if "many" in rest else F.LABEL_OPTIONAL)
            if isinstance(kind, str):
                made.type, made.type_name = F.TYPE_MESSAGE, ".test." + kind
            else:
                made.type = kind
            if "value" in rest:
                if not message.oneof_decl:
                    message.oneof_decl.add(name="value")
                made.oneof_index = 0

    m = file.message_type
    add(m, "PropertyValue", (1, "type", F.TYPE_UINT32), (2, "is_null", F.TYPE_BOOL), (3, "int_value", F.TYPE_UINT32, "value"),
        (4, "long_value", F.TYPE_UINT64, "value"), (8, "string_value", F.TYPE_STRING, "value"))
    add(m, "PropertySet", (1, "keys", F.TYPE_STRING, "many"), (2, "values", "PropertyValue", "many"))
    add(m, "DataSet", (1, "num_of_columns", F.TYPE_UINT64), (2, "columns", F.TYPE_STRING, "many"), (3, "types", F.TYPE_UINT32, "many"))
    add(m, "Template", (1, "version", F.TYPE_STRING), (2, "metrics", "Metric", "many"), (4, "template_ref", F.TYPE_STRING), (5, "is_definition", F.TYPE_BOOL))
    add(m, "Metric", (1, "name", F.TYPE_STRING), (2, "alias", F.TYPE_UINT64), (3, "timestamp", F.TYPE_UINT64), (4, "datatype", F.TYPE_UINT32),
        (5, "is_historical", F.TYPE_BOOL), (6, "is_transient", F.TYPE_BOOL), (7, "is_null", F.TYPE_BOOL), (9, "properties", "PropertySet"),
        (10, "int_value", F.TYPE_UINT32, "value"), (11, "long_value", F.TYPE_UINT64, "value"), (12, "float_value", F.TYPE_FLOAT, "value"),
        (13, "double_value", F.TYPE_DOUBLE, "value"), (14, "boolean_value", F.TYPE_BOOL, "value"), (15, "string_value", F.TYPE_STRING, "value"),
        (16, "bytes_value", F.TYPE_BYTES, "value"), (17, "dataset_value", "DataSet", "value"), (18, "template_value", "Template", "value"))
    add(m, "Payload", (1, "timestamp", F.TYPE_UINT64), (2, "metrics", "Metric", "many"), (3, "seq", F.TYPE_UINT64), (4, "uuid", F.TYPE_STRING), (5, "body", F.TYPE_BYTES))
    pool = descriptor_pool.DescriptorPool()
    pool.Add(file)
    payload_type = pool.FindMessageTypeByName("test.Payload")
    if hasattr(message_factory, "GetMessageClass"):
        return message_factory.GetMessageClass(payload_type)
    return message_factory.MessageFactory(pool).GetPrototype(payload_type)


Payload = build()
TYPES = {name: number for number, name in enumerate(
    "Unknown Int8 Int16 Int32 Int64 UInt8 UInt16 UInt32 UInt64 Float Double Boolean String DateTime Text UUID DataSet Bytes File Template".split())}


def fill(metric, said):
    kind = said.get("type", "Unknown")
    for member in ("name", "alias", "timestamp"):
        if member in said:
            setattr(metric, member, said[member])
    if said.get("typed", True):
        metric.datatype = TYPES[kind]
    if said.get("historical"):
        metric.is_historical = True
    if "quality" in said:
        metric.properties.keys.extend(["Engineering Unit", "Quality"])
        metric.properties.values.add(type=TYPES["String"], string_value="mm")
        metric.properties.values.add(type=TYPES["Int32"], int_value=said["quality"])
    if said.get("null"):
        metric.is_null = True
        return
    value = said.get("value")
    if kind in ("Int8", "Int16", "Int32"):
        metric.int_value = value & 0xFFFFFFFF
    elif kind in ("UInt8", "UInt16", "UInt32"):
        metric.int_value = value
    elif kind in ("Int64", "UInt64", "DateTime"):
        metric.long_value = value & 0xFFFFFFFFFFFFFFFF
    elif kind == "Float":
        metric.float_value = float(value)
    elif kind == "Double":
        metric.double_value = float(value)
    elif kind == "Boolean":
        metric.boolean_value = value
    elif kind in ("String", "Text", "UUID"):
        metric.string_value = value
    elif kind == "Bytes":
        metric.bytes_value = bytes.fromhex(value)
    elif kind == "DataSet":
        metric.dataset_value.num_of_columns = 1
        metric.dataset_value.columns.append("a")
        metric.dataset_value.types.append(TYPES["Int32"])
    elif kind == "Template":
        metric.template_value.template_ref = value
        fill(metric.template_value.metrics.add(), {"name": "inner", "type": "Double", "value": 1.5})


def payload(said):
    made = Payload()
    for member in ("timestamp", "seq"):
        if member in said:
            setattr(made, member, said[member])
    for metric in said.get("metrics", []):
        fill(made.metrics.add(), metric)
    return made


def encode():
    for line in sys.stdin:
        print(payload(json.loads(line)).SerializeToString(deterministic=True).hex(), flush=True)


class Node:
    def __init__(self, port, group, node, number, answers):
        import paho.mqtt.client as mqtt

        self.group, self.node, self.number, self.answers = group, node, number, answers
        self.seq = 0
        self.births = []
        self.connected = threading.Event()
        newer = [mqtt.CallbackAPIVersion.VERSION1] if hasattr(mqtt, "CallbackAPIVersion") else []
        self.client = mqtt.Client(*newer, client_id=f"{group}-{node}")
        self.client.will_set(self.topic("NDEATH"), self.death(), qos=1, retain=False)
        self.client.on_connect = lambda *_: self.client.subscribe(self.topic("NCMD"), qos=1)
        self.client.on_subscribe = lambda *_: (print("connected", flush=True), self.connected.set())
        self.client.on_message = self.commanded
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def topic(self, kind, device=None):
        return f"spBv1.0/{self.group}/{kind}/{self.node}" + (f"/{device}" if device else "")

    def death(self):
        return payload({"metrics": [{"name": "bdSeq", "type": "Int64", "value": self.number}]}).SerializeToString()

    def commanded(self, client, userdata, message):
        received = Payload()
        received.ParseFromString(message.payload)
        for metric in received.metrics:
            print(f"command {message.topic} qos {message.qos} retain {message.retain} {metric.name} type {metric.datatype} {metric.WhichOneof('value')} {metric.boolean_value}", flush=True)
        if self.answers:
            for birth in list(self.births):
                self.publish(birth, waits=False)

    def publish(self, said, waits=True):
        kind, device = said["send"], said.get("device")
        said = dict(said)
        if kind in ("NBIRTH", "DBIRTH") and said not in self.births:
            if kind == "NBIRTH":
                self.births.clear()
            self.births.append(dict(said))
        if kind == "NBIRTH":
            self.seq = 0
            said["metrics"] = said.get("metrics", []) + [
                {"name": "bdSeq", "type": "Int64", "value": self.number},
                {"name": "Node Control/Rebirth", "type": "Boolean", "value": False}]
        said.setdefault("seq", self.seq)
        said.setdefault("timestamp", int(time.time() * 1000))
        self.seq = (said["seq"] + 1) % 256
        if not said.get("lost"):
            handed = self.client.publish(self.topic(kind, device), payload(said).SerializeToString(), qos=0)
            if waits:
                handed.wait_for_publish()
        print("sent", kind, said["seq"], flush=True)

    def play(self, recording):
        kinds = {"head_position": "Float", "motor_load": "Double", "blade_speed": "Float", "cycle_active": "Boolean", "cutting": "Boolean",
                 "blade_running": "Boolean", "fault_code": "Int16", "part_count": "UInt32"}
        read = {"Float": float, "Double": float, "Int16": int, "UInt32": int, "Boolean": lambda text: text == "true", "String": str}
        with open(recording, newline="", encoding="utf-8") as file:
            rows = [(datetime.fromisoformat(row.pop("time").replace("Z", "+00:00")).timestamp(), row.pop("saw"), row) for row in csv.DictReader(file)]
        self.connected.wait()
        wall, start, latest = time.time(), time.monotonic(), 0.0
        print(f"playing from {wall * 1000:.0f}", flush=True)
        before = {}
        # Not later than the births of the devices, which have the recording's times: a host leaves out what is older than the node's birth.
        self.publish({"send": "NBIRTH", "timestamp": int(wall * 1000)})
        for at, saw, row in rows:
            offset = at - rows[0][0]
            time.sleep(max(0.0, start + offset - time.monotonic()))
            latest = max(latest, time.monotonic() - start - offset)
            metrics = []
            for alias, (name, text) in enumerate(row.items(), 1):
                if saw in before and before[saw][name] == text:
                    continue
                kind = kinds.get(name, "String")
                metric = {"alias": alias, "type": kind, "typed": saw not in before, "timestamp": int((wall + offset) * 1000)}
                if saw not in before:
                    metric["name"] = f"Saw/{name}"
                metrics.append(metric | ({"null": True} if text == "" else {"value": read[kind](text)}))
            if metrics:
                self.publish({"send": "DDATA" if saw in before else "DBIRTH", "device": saw, "timestamp": int((wall + offset) * 1000), "metrics": metrics})
            before[saw] = row
        print(f"played, latest row {latest * 1000:.0f} ms late", flush=True)

    def run(self):
        for line in sys.stdin:
            said = json.loads(line)
            if said["send"] == "NDEATH":
                self.client.publish(self.topic("NDEATH"), self.death(), qos=0).wait_for_publish()
                self.client.disconnect()
                print("gone", flush=True)
            else:
                for _ in range(said.pop("times", 1)):
                    self.publish(said)


if sys.argv[1] == "encode":
    encode()
else:
    node = Node(int(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4]), "answer" in sys.argv)
    if "play" in sys.argv:
        node.play(sys.argv[-1])
    node.run()
