namespace SawEdge.Modbus;

/// <summary>Why a device refuses a request (Modbus Application Protocol V1.1b3, clause 7). A device may send other codes; they are kept as they are.</summary>
public enum ModbusExceptionCode : byte
{
    /// <summary>No exception.</summary>
    None = 0,

    /// <summary>01, illegal function.</summary>
    IllegalFunction = 0x01,

    /// <summary>02, illegal data address.</summary>
    IllegalDataAddress = 0x02,

    /// <summary>03, illegal data value.</summary>
    IllegalDataValue = 0x03,

    /// <summary>04, server device failure.</summary>
    ServerDeviceFailure = 0x04,

    /// <summary>05, acknowledge.</summary>
    Acknowledge = 0x05,

    /// <summary>06, server device busy.</summary>
    ServerDeviceBusy = 0x06,

    /// <summary>08, memory parity error.</summary>
    MemoryParityError = 0x08,

    /// <summary>0A, gateway path unavailable.</summary>
    GatewayPathUnavailable = 0x0A,

    /// <summary>0B, gateway target device failed to respond.</summary>
    GatewayTargetDeviceFailedToRespond = 0x0B,
}

/// <summary>Exception codes in the standard's and in plain words.</summary>
public static class ModbusExceptionCodes
{
    /// <summary>What a code means and what to check, one or two sentences.</summary>
    public static string Explain(ModbusExceptionCode code) => code switch
    {
        ModbusExceptionCode.IllegalFunction =>
            "illegal function: the device does not offer this table. Check whether the values lie in another table of its register list.",
        ModbusExceptionCode.IllegalDataAddress =>
            "illegal data address: the device has nothing at some of these addresses. Check table and addresses against its register list; protocol addresses count from 0, lists often from 1 or from 40001.",
        ModbusExceptionCode.IllegalDataValue =>
            "illegal data value: the device does not take this quantity. Check how many registers it allows in one request.",
        ModbusExceptionCode.ServerDeviceFailure =>
            "server device failure: the device met an error of its own. Check its state and its own error list.",
        ModbusExceptionCode.Acknowledge =>
            "acknowledge: the device needs longer for this request. Poll it less often.",
        ModbusExceptionCode.ServerDeviceBusy =>
            "server device busy: the device is working at something else. Poll it less often, or check what else reads it.",
        ModbusExceptionCode.MemoryParityError =>
            "memory parity error: the device found its memory damaged. It may need service.",
        ModbusExceptionCode.GatewayPathUnavailable =>
            "gateway path unavailable: the protocol gateway has no way to this unit. Check the unit identifier and the gateway's own settings.",
        ModbusExceptionCode.GatewayTargetDeviceFailedToRespond =>
            "gateway target device failed to respond: the unit behind the protocol gateway is silent. Check its power, its line and the unit identifier.",
        _ =>
            "a code that the standard does not define. Check the device's manual.",
    };
}
