namespace SawEdge.TestSupport;

/// <summary>The registers of a virtual saw's plain layout, as a configuration names them.</summary>
public static class PlainRegisters
{
    /// <summary>The object <c>signals</c> of a saw.</summary>
    public const string Signals = """
        {
          "head_position": { "address": "holding 0", "type": "int16", "unit": "0.1 mm" },
          "blade_speed": { "address": "holding 1", "type": "uint16", "unit": "0.1 m/min" },
          "motor_load": { "address": "holding 2", "type": "float32" },
          "part_count": { "address": "holding 4", "type": "uint32" },
          "fault_code": { "address": "holding 6", "type": "uint16" },
          "mode": { "address": "holding 7", "type": "uint16", "texts": { "0": "manual", "1": "semi_automatic", "2": "automatic" } },
          "job": { "address": "40009", "type": "ascii", "registers": 8 },
          "blade_id": { "address": "holding 24", "type": "ascii", "registers": 8 },
          "cycle_active": { "address": "discrete 0" },
          "cutting": { "address": "discrete 1" },
          "blade_running": { "address": "coil 2" }
        }
        """;
}
