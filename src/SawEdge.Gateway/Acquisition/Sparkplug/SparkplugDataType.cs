namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>The types of a metric (Sparkplug 3.0, chapter 6, enum DataType).</summary>
internal enum SparkplugDataType : uint
{
    Unknown = 0,
    Int8 = 1,
    Int16 = 2,
    Int32 = 3,
    Int64 = 4,
    UInt8 = 5,
    UInt16 = 6,
    UInt32 = 7,
    UInt64 = 8,
    Float = 9,
    Double = 10,
    Boolean = 11,
    String = 12,
    DateTime = 13,
    Text = 14,
    Uuid = 15,
    DataSet = 16,
    Bytes = 17,
    File = 18,
    Template = 19,
    PropertySet = 20,
    PropertySetList = 21,
    FirstArray = 22,
    LastArray = 34,
}

/// <summary>Which member of the metric's oneof value it carries (Sparkplug 3.0, chapter 6, message Metric).</summary>
internal enum SparkplugValueKind : byte
{
    None,
    Int,
    Long,
    Float,
    Double,
    Boolean,
    String,
    Bytes,
    DataSet,
    Template,
    Extension,
}
