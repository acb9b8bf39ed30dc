using System.Globalization;
using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class HandlerTests
{
    // Parameters of the two write paths: the public API descriptions of InfluxDB 1.x (/write: db, rp, precision with u for
    // microseconds) and 2.x (/api/v2/write: bucket, org, precision with us; bucket "database/retention-policy" on 1.8).
    [Theory]
    [InlineData("http://h:8086/api/v2/write?org=-&bucket=plant%2fautogen&precision=ms", "http://h:8086/write?db=plant&rp=autogen&precision=ms")]
    [InlineData("http://h:8086/api/v2/write?bucket=plant&precision=us", "http://h:8086/write?db=plant&precision=u")]
    [InlineData("http://h:8086/api/v2/write?bucket=plant%2F&precision=ns", "http://h:8086/write?db=plant&precision=ns")]
    [InlineData("http://h:8086/api/v2/write?bucket=plant%2frp%2fwith%20slash&precision=s", "http://h:8086/write?db=plant&rp=rp%2Fwith%20slash&precision=s")]
    [InlineData("http://h/behind/proxy/api/v2/write?bucket=a%26b&precision=ms", "http://h/behind/proxy/write?db=a%26b&precision=ms")]
    [InlineData("http://h:8086/ping", "http://h:8086/ping")]
    [InlineData("http://h:8086/api/v2/query?bucket=x", "http://h:8086/api/v2/query?bucket=x")]
    public void Map_WriteAddress_BecomesTheOneOfVersion1(string from, string to) => Assert.Equal(to, Version1WriteHandler.Map(new Uri(from)).AbsoluteUri);

    // RFC 9110 section 10.2.3: Retry-After = HTTP-date / delay-seconds, and its two examples.
    [Theory]
    [InlineData("120", 120)]
    [InlineData("Fri, 31 Dec 1999 23:59:59 GMT", 59)]
    [InlineData("Fri, 31 Dec 1999 23:00:00 GMT", 0)]
    [InlineData("0", 0)]
    [InlineData("99999999999999", null)]
    [InlineData("999999", 86400)]
    [InlineData("soon", null)]
    [InlineData("-5", null)]
    [InlineData("", null)]
    public void Seconds_AnyRetryAfter_IsANumberTheLibraryCanRead(string value, int? seconds) =>
        Assert.Equal(seconds, AnswerHandler.Seconds(value, DateTimeOffset.Parse("1999-12-31T23:59:00Z", CultureInfo.InvariantCulture)));
}
