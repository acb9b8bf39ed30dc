namespace SawEdge.Modbus.Tests;

/// <summary>Bytes as the specifications print them.</summary>
internal static class Hex
{
    /// <summary>Reads pairs of digits, blanks between them.</summary>
    public static byte[] Bytes(string text) => Convert.FromHexString(text.Replace(" ", "", StringComparison.Ordinal));
}
